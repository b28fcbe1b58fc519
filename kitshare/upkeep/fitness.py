"""Whether a machine is fit to lend on a day: what stops it, what cautions it, and why. It only reads.

Nothing stores the answer. An open fault counts until it is released, whatever the day; a safety test stops, and a
service cautions, from the day after it was due. So the question about a later day tells what will be overdue by then.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from kitshare.kits.models import Machine
from kitshare.rules.checklists import Severity
from kitshare.upkeep.care_models import CarePlan, CarePlanQuerySet
from kitshare.upkeep.models import Fault, FaultQuerySet
from kitshare.upkeep.words import day_with_year


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One thing that stops a machine, or cautions it: an open fault, or a service or test that is overdue."""

    machine: Machine
    stops: bool
    fault: Fault | None = None
    plan: CarePlan | None = None

    @property
    def why(self) -> str:
        """The reason in a sentence that does not name the machine."""
        if self.fault is not None:
            return f"{self.fault.note.rstrip('.')}."
        assert self.plan is not None  # noqa: S101 - one of the two
        words = {"name": self.plan.name, "day": day_with_year(self.plan.due_on)}
        if not self.stops:
            return _("“%(name)s” has been due since %(day)s.") % words
        return _("“%(name)s” was due on %(day)s, and is not recorded as passed since.") % words

    def __str__(self) -> str:
        return _("%(machine)s: %(why)s") % {"machine": self.machine.name, "why": self.why}


def reasons(machines: Iterable[Machine], *, on: date) -> list[Reason]:
    """All that stops or cautions some machines on a day, what stops first, machine by machine. Three queries."""
    machines = list(machines)
    with_care = Fault.objects.open().filter(machine__in=machines, severity=Severity.USE_WITH_CARE.value)
    overdue = CarePlan.objects.overdue(on).filter(machine__in=machines)
    found = [*_of(Fault.objects.stopping(machines), overdue), *_of(with_care, CarePlan.objects.none())]
    return sorted(found, key=lambda reason: (not reason.stops, reason.machine.pk))


def stops(machines: Iterable[Machine], *, on: date) -> list[Reason]:
    """Why some machines may not be handed over on a day; empty where they may. Two queries."""
    machines = list(machines)
    overdue = CarePlan.objects.tests_overdue(on).filter(machine__in=machines)
    found = _of(Fault.objects.stopping(machines), overdue)
    return sorted(found, key=lambda reason: reason.machine.pk)


def set_aside(machines: Iterable[Machine]) -> list[Reason]:
    """The faults because of which some machines can be promised to nobody until released.

    An overdue test is not among them: days to come may be promised while the test is still to be done.
    """
    return _of(Fault.objects.stopping(machines), CarePlan.objects.none())


def _of(faults: FaultQuerySet, plans: CarePlanQuerySet) -> list[Reason]:
    of_faults = [
        Reason(machine=fault.machine, stops=fault.stops_use, fault=fault)
        for fault in faults.select_related("machine").order_by("machine_id", "pk")
    ]
    of_plans = [
        Reason(machine=plan.machine, stops=plan.is_test, plan=plan)
        for plan in plans.select_related("machine").order_by("machine_id", "due_on", "pk")
    ]
    return [*of_faults, *of_plans]
