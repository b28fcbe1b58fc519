"""The shelf: what lies at each depot, one thing's own page, and the deeds on it."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings.models import Booking, Season
from kitshare.kits.models import Depot
from kitshare.upkeep import shelf as deeds
from kitshare.upkeep import shelf_things
from kitshare.upkeep.shelf_models import Reason, ShelfMovement, ShelfPlace, ShelfThing
from kitshare.upkeep.shelf_needs import Standing, standings
from kitshare.upkeep.shelf_refusals import ShelfChangedMeanwhile, ShelfRefused
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.lists import on_pages
from kitshare.web.upkeep.shelf_forms import (
    CountForm,
    LeastForm,
    MoveForm,
    PutInForm,
    ShelfForm,
    TakeOutForm,
    newest_movement,
)
from kitshare.web.upkeep.shelf_tables import MovementTable


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfDeed:
    """A deed on a thing: its form, its action, and what is said once it is done."""

    form: type[ShelfForm]
    action: Callable[..., Any]
    done: Any


def _take_out(*, reason: str, **facts: Any) -> ShelfMovement:
    return deeds.take_out(reason=Reason(reason), **facts)


DEEDS: Final = {
    "put_in": ShelfDeed(form=PutInForm, action=deeds.put_in, done=_("Put on the shelf.")),
    "take_out": ShelfDeed(form=TakeOutForm, action=_take_out, done=_("Taken off the shelf.")),
    "count": ShelfDeed(form=CountForm, action=deeds.count_shelf, done=_("The count is written down.")),
    "move": ShelfDeed(form=MoveForm, action=deeds.move_to, done=_("Moved to the other depot.")),
    "least": ShelfDeed(form=LeastForm, action=shelf_things.set_least, done=_("The least count is saved.")),
}


def standings_of(request: PageRequest, places: Any) -> list[Standing]:
    """How places stand as of today, by the seasons and the setting of the scheme. Four queries."""
    seasons = [season.period for season in Season.objects.order_by("opens_on", "pk")]
    rows = places.select_related("thing__part__machine", "depot").counted()
    one_in = request.our_scheme.shortage_one_in
    return standings(rows, seasons=seasons, one_in=one_in, today=timezone.localdate())


@require_safe
@for_maintainers
def shelf(request: PageRequest) -> HttpResponse:
    """What lies on the shelf of each depot; what is under its least count comes first."""
    found = standings_of(request, ShelfPlace.objects.in_use().by_depot())
    shelves = [
        (depot, sorted(rows, key=lambda row: row.to_get == 0))
        for depot, rows in groupby(found, key=lambda row: row.place.depot)
    ]
    shown = {
        "shelves": shelves,
        "to_get": sum(row.to_get > 0 for row in found),
        "retired": ShelfThing.objects.exclude(retired_on=None).order_by("name", "pk"),
        "has_depot": bool(shelves) or Depot.objects.exists(),
    }
    return render(request, "upkeep/shelf.html", shown)


@require_safe
@for_maintainers
def shelf_thing(request: PageRequest, pk: int) -> HttpResponse:
    """One thing: how many lie where, what came and went, and the deeds on it."""
    return _page(request, _fetch(pk))


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def shelf_deed(request: PageRequest, pk: int, name: str) -> HttpResponse:
    """Do one of the deeds on a thing. Whoever comes by a link lands on its page."""
    thing = _fetch(pk)
    if request.method != "POST":
        return redirect("upkeep:shelf_thing", pk=pk)
    chosen = DEEDS[name]
    form = chosen.form(request.POST, **_about(thing))
    status = 422
    if form.is_valid():
        try:
            signed = {"by": request.user, "at": timezone.now()}
            chosen.action(thing=thing, **signed, **form.cleaned_data)
        except ShelfRefused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
            status = 409
            if isinstance(refusal, ShelfChangedMeanwhile):
                form.again()
        else:
            messages.success(request, chosen.done)
            return redirect("upkeep:shelf_thing", pk=pk)
    return _page(request, _fetch(pk), refused=(name, form), status=status)


def _fetch(pk: int) -> ShelfThing:
    return get_object_or_404(ShelfThing.objects.select_related("part__machine__kit"), pk=pk)


def _about(thing: ShelfThing) -> dict[str, Any]:
    """What every form of a thing needs; where it lies already comes first among the depots."""
    kept = set(thing.places.values_list("depot", flat=True))
    depots = sorted(Depot.objects.order_by("name", "pk"), key=lambda depot: depot.pk not in kept)
    return {"thing": thing, "depots": depots, "newest": newest_movement(thing)}


def _page(
    request: PageRequest, thing: ShelfThing, refused: tuple[str, ShelfForm] | None = None, status: int = 200
) -> HttpResponse:
    about = _about(thing)
    forms = {name: deed.form(**about) for name, deed in DEEDS.items()}
    if refused is not None:
        forms[refused[0]] = refused[1]
    places = standings_of(request, ShelfPlace.objects.filter(thing=thing).by_depot())
    if refused is None and places:
        forms["least"].initial["least_count"] = places[0].place.least_count
        forms["least"].initial["depot"] = places[0].place.depot_id
    table = MovementTable(
        ShelfMovement.objects.filter(place__thing=thing)
        .select_related("place__depot", "by", "fault__machine", "fault__part")
        .newest_first(),
        exclude=() if len(about["depots"]) > 1 else ("depot",),
    )
    on_pages(request, table)
    page = list(table.page.object_list.data)
    went = {movement.booking_key for movement in page if movement.booking_key}
    bookings = {row.pk: row for row in Booking.objects.filter(pk__in=went).select_related("village")} if went else {}
    for movement in page:
        movement.booking = bookings.get(movement.booking_key)
    shown = {
        "thing": thing,
        "shelves": places,
        "forms": forms,
        "form": refused[1] if refused else None,
        "opened": refused[0] if refused else "",
        "many_depots": len(about["depots"]) > 1,
        "table": table,
        "has_movements": bool(page),
    }
    return render(request, "upkeep/shelf_thing.html", shown, status=status)
