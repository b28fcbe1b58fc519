"""Adding, changing and retiring what is kept on the shelf; how seldom it may run out; and what to order."""

import csv
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.bringing.cells import neutral
from kitshare.kits.models import Part
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.shortage import choose_shortage
from kitshare.upkeep import shelf_things
from kitshare.upkeep.shelf_models import ShelfPlace, ShelfThing, ThingKind
from kitshare.upkeep.shelf_needs import Standing
from kitshare.upkeep.shelf_refusals import ShelfRefused
from kitshare.web.access import PageRequest, for_coordinators, for_maintainers
from kitshare.web.upkeep.shelf import standings_of
from kitshare.web.upkeep.shelf_forms import NewThingForm, ShortageForm, ThingForm

LONGEST_KEY = 18  # figures, so that it is within 64 bits


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def shelf_new(request: PageRequest) -> HttpResponse:
    """Add a spare or a consumable, with how many there are now."""
    form = NewThingForm(request.POST if request.method == "POST" else None, initial=_known(request))
    if request.method == "POST" and form.is_valid():
        try:
            thing = shelf_things.add_thing(**_signed(request), **form.cleaned_data)
        except ShelfRefused as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("%(name)s is on the shelf.") % {"name": thing.name})
            return redirect("upkeep:shelf_thing", pk=thing.pk)
    return render(request, "upkeep/shelf_new.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def shelf_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change what is known of a thing."""
    thing = _fetch(pk)
    # Another row for the form, which writes what was typed on its own.
    form = ThingForm(request.POST if request.method == "POST" else None, instance=_fetch(pk))
    if request.method == "POST" and form.is_valid():
        try:
            shelf_things.change_thing(thing=thing, **_signed(request), **form.cleaned_data)
        except (ShelfRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved."))
            return redirect("upkeep:shelf_thing", pk=pk)
    shown = {"form": form, "thing": thing}
    return render(request, "upkeep/shelf_change.html", shown, status=422 if form.errors else 200)


@for_maintainers
@require_POST
def shelf_retire(request: PageRequest, pk: int) -> HttpResponse:
    """Keep it no more."""
    try:
        thing = shelf_things.retire_thing(thing=_fetch(pk), today=timezone.localdate(), **_signed(request))
        messages.success(request, _("%(name)s is kept no more. Its movements stay.") % {"name": thing.name})
    except ShelfRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("upkeep:shelf_thing", pk=pk)


@for_maintainers
@require_POST
def shelf_bring_back(request: PageRequest, pk: int) -> HttpResponse:
    """Keep it again."""
    try:
        thing = shelf_things.bring_back_thing(thing=_fetch(pk), **_signed(request))
        messages.success(request, _("%(name)s is kept on the shelf again.") % {"name": thing.name})
    except ShelfRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("upkeep:shelf_thing", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def shelf_shortage(request: PageRequest) -> HttpResponse:
    """Choose how seldom the shelf may run out."""
    form = ShortageForm(request.POST if request.method == "POST" else None, scheme=request.our_scheme)
    if request.method == "POST" and form.is_valid():
        try:
            choose_shortage(scheme=request.our_scheme, **_signed(request), **form.cleaned_data)
        except ChangedMeanwhile as change:
            form.refuse(change)
        else:
            messages.success(request, _("Chosen. The least counts go by it from now on."))
            return redirect("upkeep:shelf")
    return render(request, "upkeep/shelf_shortage.html", {"form": form}, status=422 if form.errors else 200)


@require_safe
@for_maintainers
def order_list(request: PageRequest) -> HttpResponse:
    """What is under its least count, and how many to get. It prints."""
    rows = _to_get(request)
    depots = {row.place.depot_id for row in rows}
    shown = {"rows": rows, "many_depots": len(depots) > 1, "today": timezone.localdate()}
    return render(request, "upkeep/order_list.html", shown)


@require_safe
@for_maintainers
def order_file(request: PageRequest) -> HttpResponse:
    """The same as a file, with the mark of UTF-8 in front: without it some spreadsheets read accents wrongly."""
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="order-list.csv"'
    lines = csv.writer(answer)
    headings = (_("Depot"), _("What"), _("To get"), _("Each a"), _("There"), _("Least count"), _("Days"), _("Note"))
    lines.writerow(headings)
    for row in _to_get(request):
        thing = row.place.thing
        cells = (row.place.depot.name, thing.name, row.to_get, thing.unit, row.count, row.least, thing.lead_days)
        lines.writerow(neutral(str(cell)) for cell in (*cells, thing.note))
    return answer


def _to_get(request: PageRequest) -> list[Standing]:
    return [row for row in standings_of(request, ShelfPlace.objects.in_use().by_depot()) if row.to_get]


def _fetch(pk: int) -> ShelfThing:
    return get_object_or_404(ShelfThing.objects.select_related("part__machine"), pk=pk)


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _known(request: PageRequest) -> dict[str, Any]:
    """What an address may fill in beforehand: a spare of a part, at the depot of its kit."""
    asked = request.GET.get("part", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) <= LONGEST_KEY):
        return {}
    part = Part.objects.travelling().select_related("machine__kit").filter(pk=int(asked)).first()
    if part is None:
        return {}
    name = f"{part.name}, {part.machine.name}"
    return {"part": part.pk, "kind": ThingKind.SPARE, "name": name, "depot": part.machine.kit.depot_id}
