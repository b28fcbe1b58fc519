"""The days of a month against the machines, worked out from one query of booked days."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import AHEAD, BookedDay, DayKind, Stage
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import SATURDAY, Period
from kitshare.upkeep.models import Fault
from kitshare.web.templatetags.kitshare import day as day_words

ONE_DAY = timedelta(days=1)


@dataclass(slots=True, kw_only=True)
class Outing:
    """One booking as the season shows it: to whom, which days, how far it has come."""

    key: int
    village: str
    stage: str
    out_on: date
    back_on: date
    is_open_to_me: bool
    is_late: bool
    is_at_risk: bool = False
    machines: list[Machine] = field(default_factory=list)
    stage_word: str = ""
    address: str = ""
    days_words: str = ""
    bar: str = ""
    bar_word: str = ""

    def put_into_words(self) -> None:
        """Work out once what many cells of the page say; it costs too much to work out in each."""
        self.stage_word = str(Stage(self.stage).label)
        self.address = reverse("bookings:show", args=[self.key]) if self.is_open_to_me else ""
        words = _("Out %(out)s, back by the morning of %(back)s")
        self.days_words = words % {"out": day_words(self.out_on), "back": day_words(self.back_on)}
        self.bar, self.bar_word = self.stage, self.stage_word
        if self.is_late:
            self.bar, self.bar_word = "late", _("late")
        elif self.is_at_risk:
            self.bar, self.bar_word = "risk", _("at risk")


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Some days in a row of one machine: free, booked by one outing, kept for care, or closed.

    Free days are cut at weekends and at today, which look different.
    """

    kind: str
    days: int
    outing: Outing | None = None
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
    """A month: its days, a row for each machine, and the same outings as a list."""

    days: list[date]
    rows: list[MachineRow]
    outings: list[Outing]


def machines_with_state() -> list[Machine]:
    """The machines in use in the order of kits, each with `is_set_aside`. One query."""
    stopping = Fault.objects.stopping().filter(machine=OuterRef("pk"))
    machines = Machine.objects.in_use().select_related("kit").annotate(is_set_aside=Exists(stopping))
    return list(machines.order_by("kit__name", "kit_id", "position", "pk"))


def booked_days(period: Period, member: Member) -> list[dict[str, Any]]:
    """The booked days in a period with what the season shows of their bookings. One query."""
    days = BookedDay.objects.filter(day__gte=period.start, day__lt=period.end)
    if not (member.coordinates or member.maintains):
        own = Village.borrowers.through.objects.filter(member=member, village=OuterRef("booking__village"))
        days = days.annotate(is_mine=Exists(own))
    names = ["machine_id", "day", "kind", "booking_id", "booking__village__name", "booking__stage"]
    names += ["booking__out_on", "booking__back_on"]
    if "is_mine" in days.query.annotations:
        names.append("is_mine")
    return list(days.values(*names).order_by("machine_id", "day"))


def month_grid(*, month: Period, member: Member, today: date) -> Grid:
    """The grid of one month, in two queries whatever is in it."""
    machines = machines_with_state()
    days = booked_days(month, member)
    outings = _outings(days, {machine.pk: machine for machine in machines}, today)
    of_machine = defaultdict(list)
    for booked in days:
        of_machine[booked["machine_id"]].append(booked)
    looks = {day: _look(day, today) for day in month.days}
    for outing in outings.values():
        outing.put_into_words()
    rows = [MachineRow(machine=one, spans=list(_spans(looks, of_machine[one.pk], outings))) for one in machines]
    rows = [row for _kit, of_kit in groupby(rows, key=lambda row: row.machine.kit_id) for row in _joined(list(of_kit))]
    shown = sorted(outings.values(), key=lambda outing: (outing.out_on, outing.key))
    return Grid(days=list(month.days), rows=rows, outings=shown)


def _joined(rows: list[MachineRow]) -> list[MachineRow]:
    """The rows of one kit; when all its machines have the same month, the first row's cells reach over all of them."""
    first = rows[0]
    if len(rows) == 1 or any(row.spans != first.spans for row in rows):
        return rows
    return [replace(first, reaches=len(rows)), *(replace(row, spans=[]) for row in rows[1:])]


def _outings(days: list[dict[str, Any]], machines: dict[int, Machine], today: date) -> dict[int, Outing]:
    """Each booking among the days, with its machines; at risk when one of them is set aside and it is still to go."""
    outings: dict[int, Outing] = {}
    for booked in days:
        if booked["kind"] != DayKind.BOOKED:
            continue
        outing = outings.get(booked["booking_id"])
        if outing is None:
            outing = outings[booked["booking_id"]] = Outing(
                key=booked["booking_id"],
                village=booked["booking__village__name"],
                stage=booked["booking__stage"],
                out_on=booked["booking__out_on"],
                back_on=booked["booking__back_on"],
                is_open_to_me=booked.get("is_mine", True),
                is_late=booked["booking__stage"] == Stage.OUT and booked["booking__back_on"] < today,
            )
        machine = machines.get(booked["machine_id"])
        if machine is not None and machine not in outing.machines:
            outing.machines.append(machine)
            is_set_aside = getattr(machine, "is_set_aside", False)
            outing.is_at_risk = outing.is_at_risk or (is_set_aside and outing.stage in AHEAD)
    return outings


def _runs(days: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Booked days one after the other that belong together: same kind, same booking, no day between."""
    run: list[dict[str, Any]] = []
    for booked in days:
        if run and (
            (booked["kind"], booked["booking_id"]) != (run[-1]["kind"], run[-1]["booking_id"])
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


def _spans(looks: dict[date, str], days: Iterable[dict[str, Any]], outings: dict[int, Outing]) -> Iterator[Span]:
    """A machine's month from left to right, without a gap; `looks` has each of its days in order."""
    free = list(looks)
    for run in _runs(days):
        before = free.index(run[0]["day"])
        yield from _free_spans(free[:before], looks)
        free = free[before + len(run) :]
        kind = run[0]["kind"]
        outing = outings[run[0]["booking_id"]] if kind == DayKind.BOOKED else None
        yield Span(kind=kind, days=len(run), outing=outing)
    yield from _free_spans(free, looks)


def _free_spans(free: list[date], looks: dict[date, str]) -> Iterator[Span]:
    for look, days in groupby(free, key=looks.__getitem__):
        yield Span(kind="free", days=len(list(days)), look=look)
