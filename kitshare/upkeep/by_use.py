"""How far the services that go by use have come: what was done since each was recorded last, and about when it is due.

Use counts from the day after the last record; where nothing was recorded yet, all that is known of the machine counts.
It only reads. Seasons are told by whoever asks: they belong to bookings, which lie above.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Max

from kitshare.rules import use_seen
from kitshare.rules.due_by_use import First, Forecast, Measure, Used, first_due, forecast, left
from kitshare.rules.periods import Period
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep.care_models import CarePlan, CareRecord
from kitshare.upkeep.use_models import MachineUse, UseSource


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One measure of use that a service goes by: after how much it is due, what was done, when it is expected."""

    measure: Measure
    every: Decimal
    used: Used
    forecast: Forecast | None

    @property
    def left(self) -> Decimal:
        return left(self.every, self.used)

    @property
    def is_reached(self) -> bool:
        """Whether it is due by what was done: from the last kilogram, hour or outing on."""
        return self.left == 0

    def is_expected_by(self, day: date) -> bool:
        """Whether it is due already, or will be about a day before this one."""
        about = self.forecast.about if self.forecast else None
        return self.is_reached or (about is not None and about < day)


@dataclass(frozen=True, slots=True, kw_only=True)
class ByUse:
    """How a service stands that goes by use: each of its measures, and what makes it due first."""

    plan: CarePlan
    since: date | None
    limits: tuple[Limit, ...]
    first: First

    @property
    def reached(self) -> Limit | None:
        return next((limit for limit in self.limits if limit.is_reached), None)

    @property
    def nearest(self) -> Limit:
        """The measure that makes it due first; where none is foretold, the one of which the most is used up."""
        return max(self.limits, key=lambda one: (one.measure == self.first.measure, one.used.amount / one.every))

    def expected_by(self, day: date) -> Limit | None:
        """The measure that will have made it due before a day, reached ones first; None where none is expected to."""
        return self.reached or next((limit for limit in self.limits if limit.is_expected_by(day)), None)


def standings(plans: Iterable[CarePlan], *, seasons: Sequence[Period], today: date) -> dict[int, ByUse]:
    """Those of some plans that go by use and are in force, by their keys. Two queries; none where none does."""
    going = [plan for plan in plans if plan.limits and not plan.is_ended]
    if not going:
        return {}
    days = _days_of({plan.machine_id for plan in going})
    records = CareRecord.objects.filter(plan__in=going).order_by().values_list("plan")
    last = dict(records.annotate(last=Max("done_on")))
    return {
        plan.pk: _standing(plan, days.get(plan.machine_id, []), last.get(plan.pk), seasons, today) for plan in going
    }


def is_due(plan: CarePlan, by_use: ByUse | None, *, on: date) -> bool:
    """Whether a plan is overdue by date, or due by what was done."""
    return is_overdue(plan.due_on, on=on) or (by_use is not None and by_use.reached is not None)


def _standing(
    plan: CarePlan, days: list[use_seen.UseDay], since: date | None, seasons: Sequence[Period], today: date
) -> ByUse:
    limits = tuple(_limit(measure, every, days, since, seasons, today) for measure, every in plan.limits.items())
    by_measure = {limit.measure: limit.forecast for limit in limits}
    return ByUse(plan=plan, since=since, limits=limits, first=first_due(plan.due_on, by_measure))


def _limit(
    measure: Measure,
    every: Decimal,
    days: list[use_seen.UseDay],
    since: date | None,
    seasons: Sequence[Period],
    today: date,
) -> Limit:
    used = use_seen.used(days, measure, since=since)
    watched = use_seen.watched(days, measure, seasons=seasons, today=today)
    about = forecast(left(every, used), watched, seasons=seasons, today=today)
    return Limit(measure=measure, every=every, used=used, forecast=about)


def _days_of(machines: set[int]) -> dict[int, list[use_seen.UseDay]]:
    """What is known of each machine's use, the earliest day first. One query."""
    found: dict[int, list[use_seen.UseDay]] = {}
    rows = MachineUse.objects.filter(machine__in=machines).order_by("day", "pk")
    for machine, outing, day, kg, hours, source in rows.values_list(
        "machine", "booking_key", "day", "kg", "hours", "source"
    ):
        one = use_seen.UseDay(outing=outing, day=day, kg=kg, hours=hours, estimated=source == UseSource.ESTIMATED)
        found.setdefault(machine, []).append(one)
    return found
