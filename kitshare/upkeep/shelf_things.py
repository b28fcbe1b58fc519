"""What is kept on the shelves: adding, changing and retiring a thing, and how many of it must be there at least."""

import uuid
from datetime import date, datetime
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Depot, Part
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.upkeep import eligibility, shelf
from kitshare.upkeep.shelf_models import MOST, Reason, ShelfPlace, ShelfThing, ThingKind
from kitshare.upkeep.shelf_refusals import (
    NameOnShelfTaken,
    NotTheirs,
    PartNamedWrongly,
    SparesCountedAlready,
    StillOnShelf,
    TooManyOnShelf,
)


class ThingFacts(TypedDict, total=False):
    name: str
    kind: str
    part: Part | None
    unit: str
    lead_days: int
    note: str


@deed
def add_thing(
    *,
    depot: Depot,
    count: int,
    by: Member,
    at: datetime,
    form_key: uuid.UUID | None = None,
    **facts: Unpack[ThingFacts],
) -> ShelfThing:
    """Keep something new on the shelf of a depot; how many lie there is its first count. Raises ShelfRefused."""
    _check_role(by)
    thing = ShelfThing(**facts)
    said = f"{by.pk} {depot.pk} {count} {thing.name} {thing.kind} {thing.part_id}"
    thing.key = uuid.uuid5(form_key, said) if form_key else uuid.uuid4()
    if (known := ShelfThing.objects.filter(key=thing.key).first()) is not None:
        return known
    if not 0 <= count <= MOST:
        raise TooManyOnShelf
    _save(thing)
    text = _("Added to the shelf: %(name)s; one of it is a %(unit)s.") % {"name": thing.name, "unit": thing.unit}
    logbook.write(deed="shelf_thing_added", text=text, about=[thing], by=by, at=at)
    signed = shelf.Signed(by=by, at=at, key=uuid.uuid5(thing.key, "counted"))
    shelf.add(shelf.place_of(thing, depot), Reason.COUNTED, count, signed)
    return thing


@deed
def change_thing(
    *, thing: ShelfThing, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[ThingFacts]
) -> ShelfThing:
    """Change what is known of a thing, though never its count. Raises ShelfRefused, ChangedMeanwhile."""
    _check_role(by)
    current = shelf.lock(thing, by=by)
    changed = {field: value for field, value in facts.items() if getattr(current, field) != value}
    if not changed:
        return current
    logbook.check_unchanged(current, seen=seen, by_deeds=["shelf_thing_changed"])
    name = current.name
    for field, value in changed.items():
        setattr(current, field, value)
    _save(current)
    fields = ", ".join(str(ShelfThing._meta.get_field(field).verbose_name) for field in changed)  # type: ignore[union-attr]
    text = _("Changed on the shelf: %(name)s (%(fields)s).") % {"name": name, "fields": fields}
    logbook.write(deed="shelf_thing_changed", text=text, about=[current], by=by, at=at)
    return current


@deed
def set_least(*, thing: ShelfThing, depot: Depot, least_count: int | None, by: Member, at: datetime) -> ShelfPlace:
    """Say how many must be on the shelf of a depot at least; None goes by what is proposed. Raises ShelfRefused."""
    if least_count is not None and not 0 <= least_count <= MOST:
        raise TooManyOnShelf
    place = shelf.place_of(shelf.lock(thing, by=by), depot)
    if place.least_count == least_count:
        return place
    place.least_count = least_count
    place.save(update_fields=["least_count"])
    words = {"name": thing.name, "depot": depot.name, "count": least_count}
    if least_count is None:
        text = _("%(name)s at %(depot)s: the least count goes by what is used up.")
    else:
        text = _("%(name)s at %(depot)s: at least %(count)d from now on.")
    logbook.write(deed="shelf_least_set", text=text % words, about=[thing, depot], by=by, at=at)
    return place


@deed
def retire_thing(*, thing: ShelfThing, by: Member, at: datetime, today: date) -> ShelfThing:
    """Keep it no more. Its movements stay. Raises StillOnShelf while some of it is there."""
    _check_role(by)
    current = ShelfThing.objects.select_for_update(no_key=True).get(pk=thing.pk)
    if current.retired_on:
        return current
    places = ShelfPlace.objects.filter(thing=current).select_related("depot").by_depot().counted()
    left = [place for place in places if place.count]  # type: ignore[attr-defined]
    if left:
        raise StillOnShelf(places=left)
    current.retired_on = today
    current.save(update_fields=["retired_on"])
    text = _("Not kept on the shelf any more: %(name)s.") % {"name": current.name}
    logbook.write(deed="shelf_thing_retired", text=text, about=[current], by=by, at=at)
    return current


@deed
def bring_back_thing(*, thing: ShelfThing, by: Member, at: datetime) -> ShelfThing:
    """Keep it on the shelf again. Raises ShelfRefused where its name or its part is taken meanwhile."""
    _check_role(by)
    current = ShelfThing.objects.select_for_update(no_key=True).get(pk=thing.pk)
    if not current.retired_on:
        return current
    current.retired_on = None
    _save(current)
    text = _("Kept on the shelf again: %(name)s.") % {"name": current.name}
    logbook.write(deed="shelf_thing_brought_back", text=text, about=[current], by=by, at=at)
    return current


def _check_role(by: Member) -> None:
    if not eligibility.mends(by):
        raise NotTheirs


def _save(thing: ShelfThing) -> None:
    """Save, and say in words what stands in the way, also where somebody else put it there this moment."""
    is_spare = thing.kind == ThingKind.SPARE
    if is_spare != (thing.part is not None):
        raise PartNamedWrongly(is_spare=is_spare)
    try:
        with transaction.atomic():
            thing.save()
    except IntegrityError:
        others = ShelfThing.objects.in_use().exclude(pk=thing.pk)
        if thing.part is not None and others.filter(part=thing.part).exists():
            raise SparesCountedAlready(part=thing.part) from None
        if others.filter(name__iexact=thing.name).exists():
            raise NameOnShelfTaken(name=thing.name) from None
        raise
