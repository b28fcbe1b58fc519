"""What a member is told, and when: chosen by themselves, or by a coordinator for somebody who cannot sign in."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people import hearing
from kitshare.people.models import Member
from kitshare.people.refusals import PeopleRefused
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.people.forms import HearingForm


def own_hearing(request: PageRequest) -> HttpResponse:
    """What I am told."""
    return _choose(request, Member.objects.get(pk=request.user.pk), onward=redirect("people:me"))


@for_coordinators
def member_hearing(request: PageRequest, pk: int) -> HttpResponse:
    """What somebody else is told, set at their wish."""
    return _choose(request, get_object_or_404(Member, pk=pk), onward=redirect("people:member", pk=pk))


def _choose(request: PageRequest, person: Member, *, onward: HttpResponse) -> HttpResponse:
    is_own = person.pk == request.user.pk
    form = HearingForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        try:
            hearing.choose_hearing(
                member=person,
                by=request.user,
                at=timezone.now(),
                **({"language": person.language} | form.cleaned_data),
            )
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            words = _("Saved: this is how you are told from now on.")
            messages.success(request, words if is_own else _("Saved."))
            return onward
    shown = {"form": form, "person": person, "is_own": is_own, "back": onward["Location"]}
    return render(request, "people/hearing.html", shown)
