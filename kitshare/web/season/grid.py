"""The days of a month against the machines, worked out from one query of booked days."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django.utils.dates import WEEKDAYS_ABBR

from kitshare.bookings.models import DayKind
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.rules.periods import SATURDAY, Period
from kitshare.web.season.filters import Filters
from kitshare.web.season.outings import (
    Closing,
    Outing,
    booked_days,
    closings_among,
    machines_with_state,
    outings_among,
    villages_among,
)

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class GridDay:
    """The head of a day's column."""

    key: str
    number: int
    letters: str
    look: str
    holiday: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Some days in a row of one machine: free, booked by one outing, kept for care, or closed.

    Free days are cut at weekends and at today, which look different.
    """

    kind: str
    days: int
    outing: Outing | None = None
    closing: Closing | None = None
    look: str = ""

    @property
    def css(self) -> str:
        """The class by which the cell is drawn."""
        if self.outing is not None:
            return f"bar bar-{self.outing.bar}"
        return f"span-{self.kind} day-{self.look}" if self.look else f"span-{self.kind}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineRow:
    """A machine's month. `reaches` is how many rows its cells fill: those of a kit that is always lent as a whole."""

    machine: Machine
    spans: list[Span]
    reaches: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A month: its days, a row for each machine, and the same outings and closed days as lists."""

    days: list[GridDay]
    rows: list[MachineRow]
    outings: list[Outing]
    closings: list[Closing]
    filtered_by: list[str]


def month_grid(
    *, month: Period, member: Member, today: date, filters: Filters, holidays: Mapping[date, str] | None = None
) -> Grid:
    """The grid of one month, in two queries whatever is in it."""
    machines = machines_with_state(today)
    days = booked_days(month, member)
    by_key = {machine.pk: machine for machine in machines}
    outings = outings_among(days, by_key, filters=filters, today=today)
    closings = closings_among(days, by_key)
    of_machine = defaultdict(list)
    for booked in days:
        of_machine[booked["machine_id"]].append(booked)
    looks = {day: _look(day, today) for day in month.days}
    rows = [
        MachineRow(machine=one, spans=list(_spans(looks, of_machine[one.pk], outings, closings)))
        for one in filters.among(machines)
    ]
    rows = [row for _kit, of_kit in groupby(rows, key=lambda row: row.machine.kit_id) for row in _joined(list(of_kit))]
    shown = (outing for outing in outings.values() if outing.fits and filters.among(outing.machines))
    return Grid(
        days=[_head(day, look, holidays or {}) for day, look in looks.items()],
        rows=rows,
        outings=sorted(shown, key=lambda outing: (outing.out_on, outing.key)),
        closings=sorted(
            (closing for closing in closings.values() if filters.among(closing.machines)),
            key=lambda closing: closing.first_day,
        ),
        filtered_by=filters.in_words(machines=machines, villages=villages_among(days)) if filters else [],
    )


def _head(day: date, look: str, holidays: Mapping[date, str]) -> GridDay:
    letters = str(WEEKDAYS_ABBR[day.weekday()])
    return GridDay(key=day.isoformat(), number=day.day, letters=letters, look=look, holiday=holidays.get(day, ""))


def _joined(rows: list[MachineRow]) -> list[MachineRow]:
    """The rows of one kit; when all its machines have the same month, the first row's cells reach over all of them."""
    first = rows[0]
    if len(rows) == 1 or any(row.spans != first.spans for row in rows):
        return rows
    return [replace(first, reaches=len(rows)), *(replace(row, spans=[]) for row in rows[1:])]


def _runs(days: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Booked days one after the other that belong together: same kind, same booking or spell, no day between."""
    run: list[dict[str, Any]] = []
    for booked in days:
        if run and (
            (booked["kind"], booked["booking_id"], booked["spell_id"])
            != (run[-1]["kind"], run[-1]["booking_id"], run[-1]["spell_id"])
            or booked["day"] != run[-1]["day"] + ONE_DAY
        ):
            yield run
            run = []
        run.append(booked)
    if run:
        yield run


def _look(day: date, today: date) -> str:
    if day == today:
        return "today"
    return "weekend" if day.weekday() >= SATURDAY else "weekday"


def _spans(
    looks: dict[date, str], days: Iterable[dict[str, Any]], outings: dict[int, Outing], closings: dict[int, Closing]
) -> Iterator[Span]:
    """A machine's month from left to right, without a gap; `looks` has each of its days in order."""
    free = list(looks)
    for run in _runs(days):
        before = free.index(run[0]["day"])
        yield from _free_spans(free[:before], looks)
        free = free[before + len(run) :]
        kind = run[0]["kind"]
        yield Span(
            kind=kind,
            days=len(run),
            outing=outings[run[0]["booking_id"]] if kind == DayKind.BOOKED else None,
            closing=closings.get(run[0]["spell_id"]),
        )
    yield from _free_spans(free, looks)


def _free_spans(free: list[date], looks: dict[date, str]) -> Iterator[Span]:
    for look, days in groupby(free, key=looks.__getitem__):
        yield Span(kind="free", days=len(list(days)), look=look)
