"""The workbench's one list: faults, and the care that falls due, in the order of what matters, each with its reason.

The order is worked out from a few columns of all that waits; only what stands on the page is fetched whole. So the
queries are as many at ten faults as at a thousand.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import Any, Final

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.words import day_in_words
from kitshare.kits.models import Part
from kitshare.rules.checklists import NEEDED_TO_RUN, Severity
from kitshare.rules.servicing import NOTICE
from kitshare.rules.workbench import Place, Rank, Task, Waiting, place_of, stopped_outing
from kitshare.upkeep.by_use import ByUse
from kitshare.upkeep.care_models import CarePlan, CarePlanQuerySet
from kitshare.upkeep.models import Fault, FaultQuerySet
from kitshare.upkeep.words import day_with_year
from kitshare.web.upkeep import facts, use_words
from kitshare.web.upkeep.care_facts import care_line, soonest_due_first, standings_of
from kitshare.web.upkeep.work_lines import WorkLine, line_of_fault, line_of_plan

PEOPLE: Final = ("reported_by", "taken_by", "mended_by", "released_by", "given_up_by")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outing:
    """A booking for which a machine is still to go out."""

    day: date
    booking: int


@dataclass(slots=True, kw_only=True)
class Row:
    """One row of the list: what waits, and its line once it stands on the page."""

    key: int
    waiting: Waiting
    place: Place
    outings: Sequence[Outing]
    machines: frozenset[int]
    joined: int = 0
    line: WorkLine | None = None

    @property
    def is_fault(self) -> bool:
        return self.waiting.task == Task.FAULT


def whole() -> FaultQuerySet:
    """Faults with all that a line about them shows."""
    return Fault.objects.select_related("machine__kit", "part", *PEOPLE)


def due_soon(today: date) -> CarePlanQuerySet:
    """What is overdue, or falls due within the notice that its doers get: by its day, or by use about then."""
    stands = standings_of(CarePlan.objects.by_use(), today)
    return soonest_due_first(CarePlan.objects.in_force(), stands).filter(
        first_on__lte=today + NOTICE  # type: ignore[misc]  # annotated by soonest_due_first()
    )


def in_order(faults: FaultQuerySet, plans: CarePlanQuerySet, today: date) -> list[Row]:
    """All of these, the most pressing first. Four queries."""
    outings = _outings(today)
    rows = [*_of_faults(faults, outings, today), *_of_plans(plans, outings, today)]
    return sorted(rows, key=attrgetter("place", "key"))


def _outings(today: date) -> dict[int, list[Outing]]:
    """For each machine the outings that are booked and still to come, the soonest first."""
    found: dict[int, list[Outing]] = {}
    ahead = Booking.objects.ahead().filter(back_on__gt=today, machines__isnull=False).order_by("out_on", "pk")
    for machine, day, booking in ahead.values_list("machines", "out_on", "pk"):
        found.setdefault(machine, []).append(Outing(day=day, booking=booking))
    return found


def _row(key: int, machines: frozenset[int], outings: Mapping[int, list[Outing]], today: date, **said: object) -> Row:
    coming = [outing for machine in machines for outing in outings.get(machine, [])]
    coming.sort(key=attrgetter("day", "booking"))
    waiting = Waiting(outings=[outing.day for outing in coming], **said)  # type: ignore[arg-type]
    return Row(key=key, waiting=waiting, place=place_of(waiting, today=today), outings=coming, machines=machines)


def _of_faults(faults: FaultQuerySet, outings: Mapping[int, list[Outing]], today: date) -> Iterable[Row]:
    """One row for each fault and those joined to it: as urgent as the worst of them, for its machines."""
    served: dict[int, set[int]] = {}
    shared = Part.also_serves.through.objects.filter(part__kind__in=NEEDED_TO_RUN)
    for part, machine in shared.values_list("part", "machine"):
        served.setdefault(part, set()).add(machine)
    columns = ("pk", "joined_to", "machine", "part", "severity", "reported_at")
    found = {one.pk: one for one in faults.order_by().values_list(*columns, named=True)}
    together: dict[int, list[Any]] = {}
    for one in found.values():
        together.setdefault(one.joined_to if one.joined_to in found else one.pk, []).append(one)
    for key, ones in together.items():
        worst = min((Severity(one.severity) for one in ones), key=attrgetter("rank"))
        bad = [one for one in ones if one.severity == worst]
        machines = frozenset(machine for one in bad for machine in (one.machine, *served.get(one.part, ())))
        day = timezone.localdate(found[key].reported_at)
        row = _row(key, machines, outings, today, task=Task.FAULT, day=day, severity=worst)
        row.joined = len(ones) - 1
        yield row


def _of_plans(plans: CarePlanQuerySet, outings: Mapping[int, list[Outing]], today: date) -> Iterable[Row]:
    for plan in plans.order_by():
        task = Task.TEST if plan.is_test else Task.SERVICE
        day = plan.first_on  # type: ignore[attr-defined]  # of `due_soon`
        yield _row(plan.pk, frozenset({plan.machine_id}), outings, today, task=task, day=day)


def fill(rows: Sequence[Row], today: date) -> None:
    """Give the rows of a page their lines. Four queries at most; three more where services go by use."""
    faults = whole().in_bulk([row.key for row in rows if row.is_fault])
    keys = [row.key for row in rows if not row.is_fault]
    plans = CarePlan.objects.select_related("machine__kit").in_bulk(keys)
    stands = standings_of(plans.values(), today)
    chosen = {outing.booking for row in rows if (outing := _outing_named(row, today))}
    bookings = Booking.objects.select_related("village").in_bulk(chosen)
    out = _out_with({machine for row in rows for machine in row.machines})
    for row in rows:
        outing = _outing_named(row, today)
        booking = bookings.get(outing.booking) if outing else None
        gone = next((out[machine] for machine in sorted(row.machines) if machine in out), None)
        use = None if row.is_fault else stands.get(row.key)
        why = _why(row, facts.Need(next=booking, out=gone), today, use)
        if row.is_fault:
            row.line = line_of_fault(
                faults[row.key], today, why=why, booking=booking, joined=row.joined, worst=row.waiting.severity
            )
        else:
            row.line = line_of_plan(care_line(plans[row.key], today, use=use), why=why, booking=booking)


def _outing_named(row: Row, today: date) -> Outing | None:
    """The outing because of which a thing stands where it does: the first that it stops, else the next one."""
    stopped = stopped_outing(row.waiting, today=today)
    return row.outings[stopped or 0] if row.outings else None


def _out_with(machines: set[int]) -> dict[int, Booking]:
    """The bookings that machines are out with now."""
    found: dict[int, Booking] = {}
    out = Booking.objects.filter(stage=Stage.OUT, machines__in=machines).annotate(of_machine=F("machines"))
    for booking in out.select_related("village").order_by("out_on", "pk"):
        found.setdefault(booking.of_machine, booking)  # type: ignore[attr-defined]
    return found


def _why(row: Row, need: facts.Need, today: date, use: ByUse | None) -> str:
    """Why something stands where it does, in a sentence or two."""
    place, task = row.place, row.waiting.task
    said = facts.need_of_machine(need, today)
    if place.rank == Rank.STOPS_A_BOOKING:
        return f"{said} {_('It may not go out like this.') if task == Task.FAULT else _('The test comes first.')}"
    if task == Task.FAULT:
        return said
    if use is not None and use.first.measure is not None:
        return f"{use_words.nearest(use)} {said}"
    words = {"day": day_with_year(row.waiting.day), "by": day_in_words(row.waiting.day)}
    if row.waiting.day < today:
        text = _("Due since %(day)s: nobody hands the machine over until it has passed.")
        if task == Task.SERVICE:
            text = _("Due since %(day)s; it stops nothing.")
    else:
        text = _("Due on %(by)s.")
    return f"{text % words} {said}"
