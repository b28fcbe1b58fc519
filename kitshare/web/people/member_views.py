"""Who is in the scheme: for the coordinator."""

import secrets

from django.contrib import messages
from django.db.models import OuterRef, Subquery
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from kitshare.bookings import signing
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.outbox import by_hand
from kitshare.outbox.models import BadAddress
from kitshare.people import actions as people
from kitshare.people.models import Member
from kitshare.people.refusals import PeopleRefused
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import history_of
from kitshare.web.people.forms import MemberForm, NewMemberForm
from kitshare.web.people.tables import MemberTable

SOUNDS = [first + second for first in "bdfgklmnprstvz" for second in "aeiou"]


def easy_password() -> str:
    """Four short words that mean nothing and can be read down a telephone: 70 sounds to the eighth, 49 bits."""
    return "-".join("".join(secrets.choice(SOUNDS) for _sound in range(2)) for _word in range(4))


@for_coordinators
def members(request: PageRequest) -> HttpResponse:
    """Everybody, with what they may do and whether they can sign in."""
    bad = BadAddress.objects.bad().filter(address=Lower(OuterRef("email")))
    found = Member.objects.prefetch_related("villages").annotate(
        came_back_at=Subquery(bad.values("last_at")), came_back_words=Subquery(bad.values("words"))
    )
    table = MemberTable(found.order_by("name", "pk"))
    on_pages(request, table)
    return render(request, "people/members.html", {"table": table})


@for_coordinators
def member_new(request: PageRequest) -> HttpResponse:
    """Let somebody in."""
    form = NewMemberForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            member = people.add_member(by=request.user, at=timezone.now(), **form.cleaned_data)
        except PeopleRefused as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("%(name)s is a member now.") % {"name": member.name})
            return redirect("people:member", pk=member.pk)
    return render(request, "people/member_new.html", {"form": form})


@for_coordinators
def member(request: PageRequest, pk: int) -> HttpResponse:
    """One member: how to reach them, what they may do, what was done about them."""
    person = get_object_or_404(Member, pk=pk)
    facts = {
        "person": person,
        "bad": BadAddress.objects.bad().of(person.email).first() if person.email else None,
        "villages": person.villages.order_by("name", "pk"),
        "history": history_of(person, request.user, request.GET.get("before")),
    }
    return render(request, "people/member.html", facts)


@for_coordinators
def member_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change a member's facts, roles, villages and standing."""
    person = get_object_or_404(Member, pk=pk)
    name = person.name  # the form writes what was typed on the member
    form = MemberForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        try:
            signing.change_member(member=person, by=request.user, at=timezone.now(), **form.cleaned_data)
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved."))
            return redirect("people:member", pk=pk)
    return render(request, "people/member_change.html", {"form": form, "name": name, "pk": pk})


@for_coordinators
@require_POST
def member_address_works(request: PageRequest, pk: int) -> HttpResponse:
    """Post to this member's address is trusted again."""
    person = get_object_or_404(Member, pk=pk)
    if person.email:
        by_hand.trust_address(address=person.email, of=person, by=request.user, at=timezone.now())
    messages.success(request, _("Noted. If a letter comes back again, it stands here again."))
    return redirect("people:member", pk=pk)


@for_coordinators
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def member_password(request: PageRequest, pk: int) -> HttpResponse:
    """Make a new password and show it this once, to be handed over."""
    person = get_object_or_404(Member, pk=pk)
    password = ""
    if request.method == "POST":
        password = easy_password()
        people.set_password(member=person, password=password, by=request.user, at=timezone.now())
    return render(request, "people/member_password.html", {"person": person, "password": password})
