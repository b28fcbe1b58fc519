"""What pages show of services and safety tests that recur."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Case, F, IntegerField, OuterRef, Subquery, Value, When
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.rules.servicing import NOTICE, Standing, standing
from kitshare.upkeep.care_models import CareKind, CarePlan, CarePlanQuerySet
from kitshare.upkeep.words import day_with_year, interval_in_words
from kitshare.web.upkeep.facts import Need, need_of_machine

ON_THE_WORKBENCH: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class CareLine:
    """One plan as lists show it: what, when, and how it stands in a word and a tone."""

    plan: CarePlan
    due: str
    word: str
    tone: str
    interval: str
    need: str = ""
    booking: Booking | None = None


def care_line(plan: CarePlan, today: date, need: Need | None = None) -> CareLine:
    """A plan in words; with what needs its machine, why it matters now."""
    stands = standing(plan.due_on, on=today)
    word, tone = {
        Standing.OVERDUE: (_("overdue"), "stop" if plan.is_test else "care"),
        Standing.SOON: (_("due soon"), "care"),
        Standing.LATER: (_("due later"), "quiet"),
    }[stands]
    if plan.is_ended:
        word, tone = _("ended"), "quiet"
    return CareLine(
        plan=plan,
        due=day_with_year(plan.due_on),
        word=word,
        tone=tone,
        interval=interval_in_words(plan.interval),
        need=need_of_machine(need, today) if need else "",
        booking=need.next if need else None,
    )


def care_of(machine: Machine, today: date) -> list[CareLine]:
    """The services and tests of one machine that are in force, the soonest due first. One query."""
    plans = machine.care_plans.filter(ended_on=None).order_by("due_on", "pk")
    return [care_line(plan, today) for plan in plans]


def due_on_the_workbench(today: date) -> list[CarePlan]:
    """What is overdue or due soon: tests before services, and among them what is needed soonest. One query."""
    plans = CarePlan.objects.in_force().filter(due_on__lte=today + NOTICE).select_related("machine__kit")
    return list(_soonest_needed_first(plans, today)[:ON_THE_WORKBENCH])


def lines_of(plans: Iterable[CarePlan], needs: Mapping[int, Need], today: date) -> list[CareLine]:
    return [care_line(plan, today, needs[plan.machine_id]) for plan in plans]


def _soonest_needed_first(plans: CarePlanQuerySet, today: date) -> CarePlanQuerySet:
    ahead = Booking.objects.ahead().filter(machines=OuterRef("machine"), back_on__gt=today).order_by("out_on", "pk")
    is_service = Case(When(kind=CareKind.SERVICE, then=Value(1)), default=Value(0), output_field=IntegerField())
    return plans.annotate(is_service=is_service, needed_on=Subquery(ahead.values("out_on")[:1])).order_by(
        "is_service", F("needed_on").asc(nulls_last=True), "due_on", "pk"
    )
