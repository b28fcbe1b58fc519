"""What lies on the shelf of the demonstration: ten things, what went in the season before, and what is short."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from kitshare.demonstration.kits import Fleet
from kitshare.demonstration.telling import at_nine
from kitshare.kits.models import Kit, Part
from kitshare.people.models import Member
from kitshare.upkeep import shelf, shelf_things
from kitshare.upkeep.shelf_models import Reason, ShelfThing, ThingKind

DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stocked:
    """A thing as it was first counted, and what went since: days before today, how many and why."""

    name: str
    unit: str
    count: int
    lead_days: int = 14
    note: str = ""
    went: tuple[tuple[int, int, Reason, str], ...] = ()


CONSUMABLES: Final = (
    Stocked(
        name="Sanitiser",
        unit="sachet",
        count=60,
        lead_days=10,
        note="Keep dry, and away from the acid.",
        went=(
            (390, 14, Reason.GIVEN, "For the first four outings."),
            (370, 16, Reason.GIVEN, ""),
            (330, 10, Reason.GIVEN, ""),
            (30, 12, Reason.GIVEN, "For the first three outings."),
        ),
    ),
    Stocked(
        name="Ascorbic acid", unit="bag of 1 kg", count=13, went=((385, 3, Reason.GIVEN, ""), (28, 2, Reason.GIVEN, ""))
    ),
    Stocked(
        name="Bottle caps",
        unit="bag of 500",
        count=20,
        lead_days=21,
        went=((380, 5, Reason.GIVEN, ""), (340, 4, Reason.GIVEN, ""), (25, 3, Reason.GIVEN, "")),
    ),
    Stocked(name="Cable fuses, 13 A", unit="piece", count=10, lead_days=3, went=((360, 2, Reason.WORN_OUT, "Blown."),)),
    Stocked(name="Food-grade grease", unit="tube", count=2, went=((350, 1, Reason.THROWN_AWAY, "Past its date."),)),
    Stocked(name="Hose washers", unit="piece", count=12, went=((345, 4, Reason.WORN_OUT, ""),)),
)


def fill(fleet: Fleet, today: date, began: date) -> None:
    """Count everything before the first season, then take out what went."""
    teodor = Member.objects.get(name="Teodor Haskerby")
    for stocked in CONSUMABLES:
        thing = shelf_things.add_thing(
            name=stocked.name,
            kind=ThingKind.CONSUMABLE,
            part=None,
            unit=stocked.unit,
            lead_days=stocked.lead_days,
            note=stocked.note,
            depot=fleet.heron.depot,
            count=stocked.count,
            by=teodor,
            at=at_nine(began),
        )
        for days_ago, count, reason, note in stocked.went:
            _take(thing, fleet, today - days_ago * DAY, count, reason, note, teodor)
    pins = _spare(fleet.heron, "Drive pin", 3, began, teodor)
    _take(pins, fleet, today - 377 * DAY, 1, Reason.LOST, "Somewhere in the grass at Fennerlow.", teodor)
    _put_in(pins, fleet, today - 300 * DAY, 1, "Turned by Teodor from 8 mm rod.", teodor)
    _spare(fleet.otter, "Drive pin", 1, began, teodor)
    cloths = _spare(fleet.heron, "Cloths", 13, began, teodor)
    _take(cloths, fleet, today - 365 * DAY, 3, Reason.WORN_OUT, "Torn along the hem.", teodor)
    _take(cloths, fleet, today - 20 * DAY, 2, Reason.WORN_OUT, "", teodor)
    grease = ShelfThing.objects.get(name="Food-grade grease")
    shelf_things.set_least(thing=grease, depot=fleet.heron.depot, least_count=2, by=teodor, at=at_nine(began))
    _spare(fleet.kettle, "Probe thermometer", 0, began, teodor)


def _spare(kit: Kit, name: str, count: int, began: date, by: Member) -> ShelfThing:
    part = Part.objects.travelling().select_related("machine__kit").filter(machine__kit=kit, name=name)[0]
    return shelf_things.add_thing(
        name=f"{part.name}, {part.machine.name}",
        kind=ThingKind.SPARE,
        part=part,
        unit="piece",
        lead_days=21,
        note="",
        depot=kit.depot,
        count=count,
        by=by,
        at=at_nine(began),
    )


def _take(thing: ShelfThing, fleet: Fleet, on: date, count: int, reason: Reason, note: str, by: Member) -> None:
    at = at_nine(on)
    shelf.take_out(thing=thing, depot=fleet.heron.depot, count=count, reason=reason, note=note, by=by, at=at)


def _put_in(thing: ShelfThing, fleet: Fleet, on: date, count: int, note: str, by: Member) -> None:
    shelf.put_in(thing=thing, depot=fleet.heron.depot, count=count, note=note, by=by, at=at_nine(on))
