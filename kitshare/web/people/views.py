"""The door, and a member's own page."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.outbox.models import BadAddress
from kitshare.people import actions as people
from kitshare.people import sign_ins
from kitshare.people.models import Member
from kitshare.people.refusals import PeopleRefused
from kitshare.upkeep.care_models import UpkeepCalendar
from kitshare.web import kept
from kitshare.web.access import PageRequest
from kitshare.web.feed_addresses import change_address
from kitshare.web.people.forms import OwnFactsForm, OwnPasswordForm, SignInForm


def client_of(request: HttpRequest) -> str:
    """Where a request comes from. On a server, whose proxy is trusted, the last address the proxy wrote down."""
    forwarded = request.headers.get("X-Forwarded-For", "") if settings.BEHIND_TLS else ""
    return forwarded.rpartition(",")[2].strip() or request.META.get("REMOTE_ADDR", "")


@method_decorator([login_not_required, sensitive_post_parameters("password")], name="dispatch")
class SignIn(auth.LoginView):
    """The door. Whoever is signed in already goes on to where they were going."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_form_kwargs(self) -> dict[str, Any]:
        facts: dict[str, Any] = super().get_form_kwargs()
        if self.request.method == "POST":
            facts["wait_until"] = sign_ins.begin_try(
                address=self.request.POST.get("username", ""), client=client_of(self.request), at=timezone.now()
            )
        return facts

    def form_valid(self, form: Any) -> HttpResponse:
        sign_ins.succeed(address=form.cleaned_data["username"], client=client_of(self.request))
        onward = super().form_valid(form)
        typed, address = kept.at_the_door(self.request)
        return kept.send_again(self.request, typed, address=address) if typed else onward

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        return super().get_context_data(**more) | {kept.FIELD: self.request.POST.get(kept.FIELD, "")}


class SignOut(auth.LogoutView):
    """A form sends it, so that no link can sign anybody out."""


def me(request: PageRequest) -> HttpResponse:
    """A member's own facts, which they may correct, and what they may do here."""
    # Not request.user: the form writes what was typed on its member, and the frame shows request.user.
    member = Member.objects.get(pk=request.user.pk)
    form = OwnFactsForm(request.POST or None, instance=member)
    if request.method == "POST" and form.is_valid():
        try:
            people.change_own_facts(member=request.user, at=timezone.now(), **form.cleaned_data)
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Your details are saved."))
            return redirect("people:me")
    villages = request.user.villages.order_by("name", "pk")
    runs = member.coordinates or member.maintains
    shown = {
        "form": form,
        "villages": villages,
        "calendar": UpkeepCalendar.objects.first() if runs else None,
        "bad": BadAddress.objects.bad().of(request.user.email).first(),
    }
    return render(request, "people/me.html", shown)


@require_POST
def own_feed(request: PageRequest) -> HttpResponse:
    """A new address for a member's own calendar, or none."""
    change_address(request, of=request.user)
    return redirect("people:me")


@sensitive_post_parameters()
def own_password(request: PageRequest) -> HttpResponse:
    """A new password for oneself, given the present one."""
    form = OwnPasswordForm(request.POST or None, member=request.user)
    if request.method == "POST" and form.is_valid():
        member = people.set_password(
            member=request.user, password=form.cleaned_data["password"], by=request.user, at=timezone.now()
        )
        update_session_auth_hash(request, member)
        messages.success(request, _("Your password is changed. Your other phones and computers are signed out."))
        return redirect("people:me")
    return render(request, "people/own_password.html", {"form": form})
