"""A whole season as a pressing stack: a layer for each week, squeezed to its sum when it is over."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.db.models import Exists, OuterRef, Q

from kitshare.bookings.models import Booking, ClosedSpell, Season, Stage, needs_a_machine_set_aside, needs_a_test_first
from kitshare.bookings.waiting_models import Offer
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Village
from kitshare.pressdays.juice import is_recorded, juice_litres
from kitshare.rules.periods import Period
from kitshare.web.season.filters import Filters
from kitshare.web.season.outings import Closing, Outing

WEEK = timedelta(days=7)
STANDING = ~Q(stage__in=(Stage.WAITING, Stage.DECLINED, Stage.CALLED_OFF))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One week, Monday to Sunday, or several to come in which there is nothing. `place` is "over", "now" or "later".

    Days that are offered to who waits lie among the outings, and do not count as one.
    """

    monday: date
    place: str
    count: int
    juice_litres: Decimal
    is_estimate: bool  # whether some of the juice is expected rather than recorded
    outings: tuple[Outing, ...] = ()
    closings: tuple[Closing, ...] = ()
    holidays: tuple[tuple[date, str], ...] = ()
    weeks: int = 1

    @property
    def sunday(self) -> date:
        return self.monday + WEEK * self.weeks - timedelta(days=1)

    @property
    def is_bare(self) -> bool:
        return not (self.outings or self.count or self.closings or self.holidays)


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """The layers from the first week to the last, and what they come to."""

    layers: list[Layer]
    count: int
    juice_litres: Decimal
    is_estimate: bool
    filtered_by: list[str]


def weeks_of(*, season: Season, member: Member, today: date, filters: Filters, holidays: Mapping[date, str]) -> Whole:
    """A season in five queries whatever is in it, and one more when it is filtered.

    A booking lies in the week in which it goes out, and in this week as long as it is out. Juice is what was recorded,
    and where nothing was, what is expected: the kilograms asked for, times the expected yield.
    """
    rows = _rows(season, member, filters, today)
    this_monday = monday_of(today)
    weeks: defaultdict[date, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        weeks[_week_of(row, this_monday)].append(row)
    shown = [row for monday, of_week in weeks.items() if monday >= this_monday for row in of_week]
    outings = _outings(shown, today)
    closings = _closings(season.period, filters)
    layers = [
        Layer(
            monday=monday,
            place="over" if monday < this_monday else "now" if monday == this_monday else "later",
            count=_count(weeks[monday]),
            juice_litres=_juice(weeks[monday]),
            is_estimate=_is_estimate(weeks[monday]),
            outings=tuple(outings[row["pk"]] for row in weeks[monday] if row["pk"] in outings),
            closings=tuple(one for one in closings if _meets(one, monday) and monday >= this_monday),
            holidays=tuple((day, name) for day, name in holidays.items() if monday <= day < monday + WEEK),
        )
        for monday in mondays(season.period)
    ]
    machines = Machine.objects.filter(pk=filters.machine) if filters.machine else ()
    villages = {row["village_id"]: row["village__name"] for row in rows}
    return Whole(
        layers=list(_bare_weeks_together(layers)),
        count=_count(rows),
        juice_litres=_juice(rows),
        is_estimate=_is_estimate(rows),
        filtered_by=filters.in_words(machines=machines, villages=villages) if filters else [],
    )


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def mondays(season: Period) -> list[date]:
    """The Mondays of a season's weeks."""
    first, last = monday_of(season.start), monday_of(season.last_day)
    return [first + WEEK * week for week in range((last - first) // WEEK + 1)]


def _rows(season: Season, member: Member, filters: Filters, today: date) -> list[dict[str, Any]]:
    unfit = needs_a_machine_set_aside() | needs_a_test_first(today)
    own = Village.borrowers.through.objects.filter(member=member, village=OuterRef("village"))
    found = Booking.objects.filter(out_on__gte=season.opens_on, out_on__lte=season.closes_on)
    offered = Exists(Offer.objects.open().filter(booking=OuterRef("pk")))
    found = found.filter(STANDING | Q(offered, stage=Stage.WAITING))
    if filters.stage:
        found = found.filter(stage=filters.stage)
    if filters.machine:
        found = found.filter(machines=filters.machine)
    if filters.village:
        found = found.filter(village=filters.village)
    found = found.annotate(is_mine=Exists(own), is_unfit=unfit, litres=juice_litres(), is_recorded=is_recorded())
    found = found.order_by("out_on", "pk")
    names = [
        "pk",
        "village_id",
        "village__name",
        "stage",
        "out_on",
        "back_on",
        "litres",
        "is_recorded",
        "is_mine",
        "is_unfit",
    ]
    sees_all = member.coordinates or member.maintains
    return [row | {"is_mine": sees_all or row["is_mine"]} for row in found.values(*names)]


def _week_of(row: dict[str, Any], this_monday: date) -> date:
    """The Monday of the week in which it lies."""
    monday = monday_of(row["out_on"])
    is_on = row["stage"] == Stage.OUT or (row["back_on"] >= this_monday and row["stage"] != Stage.CLOSED)
    return this_monday if monday < this_monday and is_on else monday


def _count(rows: Iterable[dict[str, Any]]) -> int:
    return sum(row["stage"] != Stage.WAITING for row in rows)


def _juice(rows: Iterable[dict[str, Any]]) -> Decimal:
    return sum((row["litres"] for row in rows if row["stage"] != Stage.WAITING), Decimal(0))


def _is_estimate(rows: Iterable[dict[str, Any]]) -> bool:
    return any(not row["is_recorded"] for row in rows if row["stage"] != Stage.WAITING)


def _outings(rows: Sequence[dict[str, Any]], today: date) -> dict[int, Outing]:
    """The bookings that a layer names, with their machines in packing order."""
    taken = Booking.machines.through.objects.filter(booking__in=[row["pk"] for row in rows]).select_related("machine")
    machines: defaultdict[int, list[Machine]] = defaultdict(list)
    for one in taken.order_by("machine__kit__name", "machine__kit", "machine__position", "machine"):
        machines[one.booking_id].append(one.machine)
    outings = {}
    for row in rows:
        outing = outings[row["pk"]] = Outing(
            key=row["pk"],
            village=row["village__name"],
            stage=row["stage"],
            out_on=row["out_on"],
            back_on=row["back_on"],
            is_open_to_me=row["is_mine"],
            is_late=row["stage"] == Stage.OUT and row["back_on"] < today,
            is_at_risk=row["is_unfit"] and row["stage"] in (Stage.ASKED, Stage.AGREED),
            machines=machines[row["pk"]],
        )
        outing.put_into_words()
    return outings


def _closings(season: Period, filters: Filters) -> list[Closing]:
    spells = ClosedSpell.objects.filter(first_day__lt=season.end, last_day__gte=season.start)
    if filters.machine:
        spells = spells.filter(days__machine=filters.machine).distinct()
    return [
        Closing(
            kind=spell.kind,
            reason=spell.reason,
            first_day=spell.first_day,
            last_day=spell.last_day,
            depot=spell.depot.name if spell.depot else "",
            machines=list(spell.machines.all()),
        )
        for spell in spells.in_order()
    ]


def _meets(closing: Closing, monday: date) -> bool:
    return closing.first_day < monday + WEEK and closing.last_day >= monday


def _bare_weeks_together(layers: Iterable[Layer]) -> Iterator[Layer]:
    """Weeks to come in which there is nothing lie together as one layer: they ask for no look each."""
    for is_bare, run in groupby(layers, key=lambda layer: layer.place == "later" and layer.is_bare):
        together = list(run)
        if is_bare:
            yield replace(together[0], weeks=len(together))
        else:
            yield from together
