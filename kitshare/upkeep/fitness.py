"""Whether a machine is fit to lend on a day: what stops it, what cautions it, and why. It only reads.

Nothing stores the answer. An open fault counts until it is released, whatever the day; a missing vital or guard part
is a fault from the check on that missed it. A safety test stops, and a service cautions, from the day after it was due;
a service that goes by use cautions once so much was done; in the opening of a season, tasks of its start that nobody
ticked off caution. So the question about a later day tells what will be overdue
by then, and which service is expected to be. Everybody who asks about faults or overdue plans asks here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Exists, Min, OuterRef, Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.kits.models import Machine
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep import by_use
from kitshare.upkeep.by_use import Limit
from kitshare.upkeep.care_models import CarePlan, CarePlanQuerySet
from kitshare.upkeep.models import Fault, FaultQuerySet
from kitshare.upkeep.season_models import Occasion, SeasonTask
from kitshare.upkeep.use_limits import amount_in_words
from kitshare.upkeep.words import day_with_year


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One thing that stops a machine, or cautions it: an open fault, a service or test that is overdue, or open tasks.

    `limit` is the use because of which a service is due, or expected to be, where its date is not the reason.
    """

    machine: Machine
    stops: bool
    fault: Fault | None = None
    plan: CarePlan | None = None
    limit: Limit | None = None
    tasks_left: int = 0

    @property
    def machine_keys(self) -> set[int]:
        """The machines that it concerns: a fault of a shared part concerns all that the part serves."""
        return self.fault.machine_keys if self.fault is not None else {self.machine.pk}

    @property
    def why(self) -> str:
        """The reason in a sentence that does not name the machine."""
        if self.fault is not None:
            return f"{self.fault.note.rstrip('.')}."
        if self.tasks_left:
            text = ngettext(
                "%(count)d task of the season's start is not ticked off.",
                "%(count)d tasks of the season's start are not ticked off.",
                self.tasks_left,
            )
            return text % {"count": self.tasks_left}
        assert self.plan is not None  # noqa: S101 - one of the three
        words = {"name": self.plan.name, "day": day_with_year(self.plan.due_on)}
        if self.limit is not None:
            return _why_by_use(self.limit, words)
        if not self.stops:
            return _("“%(name)s” has been due since %(day)s.") % words
        return _("“%(name)s” was due on %(day)s, and is not recorded as passed since.") % words

    def __str__(self) -> str:
        return _("%(machine)s: %(why)s") % {"machine": self.machine.name, "why": self.why}


def _why_by_use(limit: Limit, words: dict[str, str]) -> str:
    words |= {"every": amount_in_words(limit.measure, limit.every)}
    if limit.is_reached:
        words["used"] = amount_in_words(limit.measure, limit.used.amount)
        return _("“%(name)s” is due: it goes by %(every)s, and %(used)s were done.") % words
    assert limit.forecast is not None and limit.forecast.about is not None  # noqa: S101, PT018 - so it is expected
    words["day"] = day_with_year(limit.forecast.about)
    return _("“%(name)s” is expected to be due about %(day)s, by %(every)s.") % words


def reasons(
    machines: Iterable[Machine], *, on: date, today: date, seasons: Sequence[Period], opening: int | None = None
) -> list[Reason]:
    """All that stops or cautions some machines on a day, what stops first, machine by machine.

    `opening` is the key of the season in whose opening the day lies, if any.

    At most six queries: faults, the other machines of their parts, plans; where services go by use, what was done and
    recorded; in an opening, the tasks.
    """
    machines = list(machines)
    with_care = Fault.objects.open().filter(machine__in=machines, severity=Severity.USE_WITH_CARE.value)
    due = CarePlan.objects.by_use() | CarePlan.objects.overdue(on)
    found = [
        *_of_faults((Fault.objects.stopping(machines) | with_care).with_machines()),
        *_of_plans(due.filter(machine__in=machines), on=on, today=today, seasons=seasons),
        *(_of_tasks(machines, opening) if opening is not None else []),
    ]
    return sorted(found, key=lambda reason: (not reason.stops, reason.machine.pk))


def stops(machines: Iterable[Machine], *, on: date) -> list[Reason]:
    """Why some machines may not be handed over on a day; empty where they may. Two queries."""
    machines = list(machines)
    overdue = CarePlan.objects.tests_overdue(on).filter(machine__in=machines)
    found = [*_of_faults(Fault.objects.stopping(machines)), *_of_tests(overdue)]
    return sorted(found, key=lambda reason: reason.machine.pk)


def set_aside(machines: Iterable[Machine]) -> list[Reason]:
    """The faults because of which some machines can be promised to nobody until released.

    An overdue test is not among them: days to come may be promised while the test is still to be done.
    """
    return _of_faults(Fault.objects.stopping(machines))


def faults_by_machine(machines: Iterable[Machine] | None = None) -> dict[int, list[Fault]]:
    """The faults that stop each of some machines, or of all, by its key, the oldest first. Two queries."""
    found: dict[int, list[Fault]] = {}
    for fault in Fault.objects.stopping(machines).with_machines().order_by("pk"):
        for machine_key in fault.machine_keys:
            found.setdefault(machine_key, []).append(fault)
    return found


def next_tests() -> dict[int, date]:
    """When the first safety test of each machine is due, by its key; a machine without any is not in it. One query."""
    return dict(CarePlan.objects.tests().order_by().values_list("machine").annotate(due=Min("due_on")))


def overdue_tests(machines: Iterable[Machine] | None = None, *, on: date) -> list[CarePlan]:
    """The safety tests of some machines, or of all, that will be overdue on a day, machine by machine. One query."""
    overdue = CarePlan.objects.tests_overdue(on)
    if machines is not None:
        overdue = overdue.filter(machine__in=[machine.pk for machine in machines])
    return list(overdue.select_related("machine").order_by("machine_id", "due_on", "pk"))


def will_be_overdue(plan: CarePlan, *, out_on: date, today: date) -> bool:
    """Whether a plan will be overdue by its date when a machine goes out, or is already."""
    return is_overdue(plan.due_on, on=max(out_on, today))


def stopping_faults() -> FaultQuerySet:
    """All faults that stop a machine now, for lists and counts."""
    return Fault.objects.stopping()


def tests_overdue(on: date) -> CarePlanQuerySet:
    """All safety tests that stop a machine on a day, for lists and counts."""
    return CarePlan.objects.tests_overdue(on)


def machine_is_stopped(machine: OuterRef, *, on: date) -> Q:
    """Of a query of machines: whether a fault or an overdue test stops each on a day."""
    untested = CarePlan.objects.tests_overdue(on).filter(machine=machine)
    return Q(Exists(Fault.objects.stopping_machine(machine))) | Q(Exists(untested))


def booking_has_fault(booking: OuterRef) -> Exists:
    """Of a query of bookings: whether a fault stops one of the machines of each now."""
    return Exists(Fault.objects.stopping_booking(booking))


def booking_has_test_overdue(booking: OuterRef, *, on: date | OuterRef) -> Exists:
    """Of a query of bookings: whether a safety test of one of the machines of each is overdue on a day."""
    return Exists(CarePlan.objects.tests_overdue(on).filter(machine__bookings=booking))


def _of_faults(faults: FaultQuerySet) -> list[Reason]:
    return [
        Reason(machine=fault.machine, stops=fault.stops_use, fault=fault)
        for fault in faults.select_related("machine").order_by("machine_id", "pk")
    ]


def _of_tasks(machines: Sequence[Machine], season_key: int) -> Iterable[Reason]:
    """The machines of which tasks of the season's start are left."""
    left = SeasonTask.objects.open(season_key).filter(occasion=Occasion.START, machine__in=machines).order_by()
    counts = dict(left.values_list("machine").annotate(left=Count("pk")))
    for machine in {machine.pk: machine for machine in machines}.values():
        if machine.pk in counts:
            yield Reason(machine=machine, stops=False, tasks_left=counts[machine.pk])


def _of_tests(plans: CarePlanQuerySet) -> list[Reason]:
    ordered = plans.select_related("machine").order_by("machine_id", "due_on", "pk")
    return [Reason(machine=plan.machine, stops=True, plan=plan) for plan in ordered]


def _of_plans(plans: CarePlanQuerySet, *, on: date, today: date, seasons: Sequence[Period]) -> Iterable[Reason]:
    """Those that will be overdue by their date; else those that are, or will about be, by what was done."""
    found = list(plans.select_related("machine").order_by("machine_id", "due_on", "pk"))
    stands = by_use.standings(found, seasons=seasons, today=today)
    for plan in found:
        if is_overdue(plan.due_on, on=on):
            yield Reason(machine=plan.machine, stops=plan.is_test, plan=plan)
        elif plan.pk in stands and (limit := stands[plan.pk].expected_by(on)):
            yield Reason(machine=plan.machine, stops=False, plan=plan, limit=limit)
