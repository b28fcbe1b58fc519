"""Every movement on the shelves: what comes, what goes, what a count finds.

Each locks the thing's row first, so that two who take the last one see each other. A form sends a key of its own: sent
twice, it is one movement, and the second answer is the first. Nothing is changed afterwards: a new count is a new line.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.engine import deed
from kitshare.kits.models import Depot, Part
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.upkeep import eligibility
from kitshare.upkeep.models import Fault
from kitshare.upkeep.shelf_models import COUNTS, MOST, Reason, ShelfMovement, ShelfPlace, ShelfThing
from kitshare.upkeep.shelf_refusals import (
    NoneMoved,
    NotOnShelves,
    NotTheirs,
    SameDepot,
    ShelfChangedMeanwhile,
    TooFewOnShelf,
    TooManyOnShelf,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """Who moves something, when, with what note and for what; `key` makes a movement that was sent twice one."""

    by: Member | None
    at: datetime
    key: uuid.UUID
    note: str = ""
    fault: Fault | None = None
    booking_key: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """How many of a thing were used, from which shelf."""

    place: ShelfPlace
    count: int


@deed
def put_in(
    *,
    thing: ShelfThing,
    depot: Depot,
    count: int,
    note: str,
    by: Member,
    at: datetime,
    form_key: uuid.UUID | None = None,
) -> ShelfMovement:
    """Put what was delivered on the shelf. Raises ShelfRefused."""
    signed = _signed(form_key, "in", thing.pk, depot.pk, count, note, by=by, at=at, note=note)
    thing = lock(thing, by=by)
    return _known(signed) or add(place_of(thing, depot), Reason.DELIVERED, _some(count), signed)


@deed
def take_out(
    *,
    thing: ShelfThing,
    depot: Depot,
    count: int,
    reason: Reason,
    note: str,
    by: Member,
    at: datetime,
    booking_key: int | None = None,
    form_key: uuid.UUID | None = None,
) -> ShelfMovement:
    """Take some off the shelf, with the reason. Raises TooFewOnShelf and other ShelfRefused."""
    said = (reason, thing.pk, depot.pk, count, note, booking_key)
    signed = _signed(form_key, *said, by=by, at=at, note=note, booking_key=booking_key)
    thing = lock(thing, by=by)
    return _known(signed) or add(place_of(thing, depot), reason, -_some(count), signed)


@deed
def count_shelf(
    *,
    thing: ShelfThing,
    depot: Depot,
    count: int,
    note: str,
    by: Member,
    at: datetime,
    was_wrong: bool = False,
    seen: int | None = None,
    form_key: uuid.UUID | None = None,
) -> ShelfMovement:
    """Write down how many lie there. What is missing counts as used, unless an earlier line was wrong.

    `seen` is the key of the newest movement of the thing that the form showed, 0 for none. Raises ShelfChangedMeanwhile
    where a later one was of this depot.
    """
    signed = _signed(form_key, "count", thing.pk, depot.pk, count, note, was_wrong, by=by, at=at, note=note)
    thing = lock(thing, by=by)
    if known := _known(signed):
        return known
    place = place_of(thing, depot)
    if seen is not None:
        later = list(place.movements.filter(pk__gt=seen).select_related("by").order_by("number"))
        if later:
            raise ShelfChangedMeanwhile(movements=later)
    reason = Reason.PUT_RIGHT if was_wrong else Reason.COUNTED
    return add(place, reason, count - _there(place)[0], signed)


@deed
def move_to(
    *,
    thing: ShelfThing,
    depot: Depot,
    to: Depot,
    count: int,
    note: str,
    by: Member,
    at: datetime,
    form_key: uuid.UUID | None = None,
) -> ShelfMovement:
    """Carry some from one depot to another: two movements, or none. Raises TooFewOnShelf and other ShelfRefused."""
    signed = _signed(form_key, "move", thing.pk, depot.pk, to.pk, count, note, by=by, at=at, note=note)
    thing = lock(thing, by=by)
    if known := _known(signed):
        return known
    if depot.pk == to.pk:
        raise SameDepot
    left = add(place_of(thing, depot), Reason.MOVED_OUT, -_some(count), signed)
    there = Signed(by=by, at=at, key=uuid.uuid5(signed.key, "there"), note=note.strip())
    add(place_of(thing, to), Reason.MOVED_IN, count, there)
    return left


@deed
def use_in_mending(*, fault: Fault, used: Sequence[Used], by: Member, at: datetime) -> None:
    """Take what a mending used off the shelf, all of it or nothing. Raises TooFewOnShelf and other ShelfRefused."""
    for one in sorted(used, key=lambda one: (one.place.thing_id, one.place.pk)):
        thing = lock(one.place.thing, by=by)
        signed = Signed(by=by, at=at, key=uuid.uuid4(), fault=fault)
        add(place_of(thing, one.place.depot), Reason.MENDING, -_some(one.count), signed)


@deed
def fit_spare(*, part: Part, count: int = 1, by: Member, at: datetime, booking_key: int | None = None) -> int:
    """Put spares in a part's place at a handover; how many came off the shelf of its kit's depot.

    The kit goes out with what people put in, whatever the count says: where too few are on the shelf by the count, what
    is there comes off and the logbook says so.
    """
    place = ShelfPlace.objects.in_use().filter(thing__part=part, depot=part.machine.kit.depot_id).first()
    there = 0
    if place is not None:
        place.thing = lock(place.thing, by=None)
        there = _there(place)[0]
    taken = min(count, there)
    if place is not None and taken:
        signed = Signed(by=by, at=at, key=uuid.uuid4(), booking_key=booking_key)
        _keep(place, Reason.GIVEN, -taken, signed)
    words = {"name": part, "machine": part.machine, "left": there - taken, "count": count, "there": there}
    if taken == count:
        text = ngettext(
            "Fitted a spare for %(name)s of %(machine)s; %(left)s left on the shelf.",
            "Fitted %(count)d spares for %(name)s of %(machine)s; %(left)s left on the shelf.",
            count,
        )
    elif there:
        text = _("Fitted %(count)d spares for %(name)s of %(machine)s, though by the count only %(there)d were there.")
    else:
        text = _("Fitted a spare for %(name)s of %(machine)s, though by the count there was none on the shelf.")
    logbook.write(deed="spare_fitted", text=text % words, about=_about(part), by=by, at=at)
    return taken


def lock(thing: ShelfThing, *, by: Member | None) -> ShelfThing:
    """The thing as it stands now, nobody else's until this transaction ends. `by` nobody: no role is needed."""
    if by is not None and not eligibility.mends(by):
        raise NotTheirs
    things = ShelfThing.objects.select_related("part__machine__kit").select_for_update(of=("self",), no_key=True)
    found = things.get(pk=thing.pk)
    if found.retired_on:
        raise NotOnShelves(name=found.name)
    return found


def place_of(thing: ShelfThing, depot: Depot) -> ShelfPlace:
    """Where a thing lies at a depot, from now on if not before."""
    place, _new = ShelfPlace.objects.get_or_create(thing=thing, depot=depot)
    place.thing, place.depot = thing, depot
    return place


def add(place: ShelfPlace, reason: Reason, change: int, signed: Signed) -> ShelfMovement:
    """Add a line to the ledger of a place, whose thing is locked, and one to the logbook."""
    movement = _keep(place, reason, change, signed)
    words = {
        "name": place.thing.name,
        "depot": place.depot.name,
        "count": abs(change),
        "left": movement.balance,
        "reason": movement.get_reason_display(),
        "note": movement.note,
    }
    if reason in COUNTS:
        text = _("%(name)s at %(depot)s, %(reason)s: %(left)d on the shelf. %(note)s")
    elif change > 0:
        text = _("%(name)s at %(depot)s: %(count)d in, %(reason)s; %(left)d on the shelf now. %(note)s")
    else:
        text = _("%(name)s at %(depot)s: %(count)d out, %(reason)s; %(left)d left on the shelf. %(note)s")
    about: list[models.Model] = [place.thing, place.depot]
    about += _about(place.thing.part) if place.thing.part else []
    about += [signed.fault] if signed.fault else []
    logbook.write(deed=f"shelf_{reason.value}", text=(text % words).strip(), about=about, by=signed.by, at=signed.at)
    return movement


def _keep(place: ShelfPlace, reason: Reason, change: int, signed: Signed) -> ShelfMovement:
    before, number = _there(place)
    if before + change < 0:
        raise TooFewOnShelf(place=place, there=before)
    if before + change > MOST:
        raise TooManyOnShelf
    movement = ShelfMovement(
        key=signed.key,
        place=place,
        number=number + 1,
        reason=reason,
        before=before,
        change=change,
        balance=before + change,
        note=signed.note,
        fault=signed.fault,
        booking_key=signed.booking_key,
        by=signed.by,
        at=signed.at,
    )
    movement.save()
    return movement


def _there(place: ShelfPlace) -> tuple[int, int]:
    """How many lie there by the newest movement, and its number."""
    last = place.movements.order_by("-number").values_list("balance", "number").first()
    return last or (0, 0)


def _signed(
    form_key: uuid.UUID | None,
    *said: object,
    by: Member,
    at: datetime,
    note: str,
    booking_key: int | None = None,
) -> Signed:
    words = " ".join(str(one) for one in (by.pk, *said))
    key = uuid.uuid5(form_key, words) if form_key else uuid.uuid4()
    return Signed(by=by, at=at, key=key, note=note.strip(), booking_key=booking_key)


def _known(signed: Signed) -> ShelfMovement | None:
    return ShelfMovement.objects.filter(key=signed.key).first()


def _some(count: int) -> int:
    if count < 1:
        raise NoneMoved
    if count > MOST:
        raise TooManyOnShelf
    return count


def _about(part: Part) -> list[models.Model]:
    return [part, part.machine, part.machine.kit]
