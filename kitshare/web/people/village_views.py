"""The villages that borrow."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from kitshare.bookings import leaving, signing
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people import actions as people
from kitshare.people.models import Village
from kitshare.people.refusals import PeopleRefused
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.feed_addresses import change_address
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import history_of
from kitshare.web.people.forms import VillageForm
from kitshare.web.people.tables import VillageTable


@for_coordinators
def villages(request: PageRequest) -> HttpResponse:
    """Every village, those that borrow and those that left."""
    table = VillageTable(Village.objects.prefetch_related("borrowers").order_by("name", "pk"))
    on_pages(request, table)
    return render(request, "people/villages.html", {"table": table})


@for_coordinators
def village_new(request: PageRequest) -> HttpResponse:
    """Let a village borrow."""
    form = VillageForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = people.add_village(by=request.user, at=timezone.now(), **form.cleaned_data)
        except PeopleRefused as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("%(name)s may borrow now.") % {"name": added.name})
            return redirect("people:village", pk=added.pk)
    return render(request, "people/village_new.html", {"form": form})


def village(request: PageRequest, pk: int) -> HttpResponse:
    """One village, for those who sign for it and those who run the scheme."""
    place = get_object_or_404(Village, pk=pk)
    member = request.user
    signers = list(place.borrowers.order_by("name", "pk"))
    if not (member.coordinates or member.maintains or member in signers):
        raise PermissionDenied(_("This page is for those who sign for the village, and for those who run the scheme."))
    facts = {
        "village": place,
        "signers": signers,
        "bookings": place.bookings.order_by("-out_on", "-pk")[:10],
        "sees_feed": member.coordinates or member in signers,
        "history": history_of(place, member, request.GET.get("before")) if member.coordinates else None,
    }
    return render(request, "people/village.html", facts)


@for_coordinators
def village_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change a village's name, note and who signs for it."""
    place = get_object_or_404(Village, pk=pk)
    name = place.name  # the form writes what was typed on the village
    form = VillageForm(request.POST or None, instance=place)
    if request.method == "POST" and form.is_valid():
        try:
            signing.change_village(village=place, by=request.user, at=timezone.now(), **form.cleaned_data)
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved."))
            return redirect("people:village", pk=pk)
    return render(request, "people/village_change.html", {"form": form, "name": name, "pk": pk})


@for_coordinators
def village_leave(request: PageRequest, pk: int) -> HttpResponse:
    """Ask first, then let the village go; or say which bookings hold it."""
    place = get_object_or_404(Village, pk=pk)
    if request.method == "POST":
        try:
            leaving.let_village_leave(village=place, on=timezone.localdate(), by=request.user, at=timezone.now())
        except leaving.VillageHoldsKit as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, _("%(name)s has left the scheme.") % {"name": place.name})
        return redirect("people:village", pk=pk)
    held = leaving.bookings_held(place)
    return render(request, "people/village_leave.html", {"village": place, "held": held})


@for_coordinators
@require_POST
def village_return(request: PageRequest, pk: int) -> HttpResponse:
    """A village that had left borrows again."""
    place = get_object_or_404(Village, pk=pk)
    people.village_returns(village=place, by=request.user, at=timezone.now())
    messages.success(request, _("%(name)s may borrow again.") % {"name": place.name})
    return redirect("people:village", pk=pk)


@for_coordinators
@require_POST
def village_feed(request: PageRequest, pk: int) -> HttpResponse:
    """A new address for the village's calendar, or none."""
    change_address(request, of=get_object_or_404(Village, pk=pk))
    return redirect("people:village", pk=pk)
