"""What pages show of services and safety tests that recur."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.rules.servicing import Standing, standing
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.words import day_with_year, interval_in_words
from kitshare.web.upkeep.facts import Need, need_of_machine


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
