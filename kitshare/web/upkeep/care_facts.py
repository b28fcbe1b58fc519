"""What pages show of services and safety tests that recur."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, DateField, F, Value, When
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Season
from kitshare.kits.models import Machine
from kitshare.rules.servicing import Standing, standing
from kitshare.upkeep import by_use
from kitshare.upkeep.by_use import ByUse
from kitshare.upkeep.care_models import CarePlan, CarePlanQuerySet
from kitshare.upkeep.use_limits import often_in_words
from kitshare.upkeep.words import day_with_year
from kitshare.web.upkeep import use_words
from kitshare.web.upkeep.facts import Need, need_of_machine


@dataclass(frozen=True, slots=True, kw_only=True)
class CareLine:
    """One plan as lists show it: what, when, and how it stands in a word and a tone."""

    plan: CarePlan
    due: str
    word: str
    tone: str
    interval: str
    use: str = ""
    need: str = ""
    booking: Booking | None = None


def care_line(plan: CarePlan, today: date, need: Need | None = None, use: ByUse | None = None) -> CareLine:
    """A plan in words; with what needs its machine, why it matters now; with how it stands by use, what comes first."""
    first_on = use.first.on if use else plan.due_on
    stands = Standing.OVERDUE if by_use.is_due(plan, use, on=today) else standing(first_on, on=today)
    word, tone = {
        Standing.OVERDUE: (_("overdue"), "stop" if plan.is_test else "care"),
        Standing.SOON: (_("due soon"), "care"),
        Standing.LATER: (_("due later"), "quiet"),
    }[stands]
    if plan.is_ended:
        word, tone = _("ended"), "quiet"
    elif use is not None and use.reached is not None:
        word = _("due now")
    return CareLine(
        plan=plan,
        due=day_with_year(plan.due_on),
        word=word,
        tone=tone,
        interval=often_in_words(plan),
        use=use_words.nearest(use) if use else "",
        need=need_of_machine(need, today) if need else "",
        booking=need.next if need else None,
    )


def care_of(machine: Machine, today: date) -> list[CareLine]:
    """The services and tests of one machine in force, the soonest first. One query; three more where some go by use."""
    plans = list(machine.care_plans.filter(ended_on=None).order_by("due_on", "pk"))
    stands = standings_of(plans, today)
    plans.sort(key=lambda plan: stands[plan.pk].first.on if plan.pk in stands else plan.due_on)
    return [care_line(plan, today, use=stands.get(plan.pk)) for plan in plans]


def standings_of(plans: Iterable[CarePlan], today: date) -> dict[int, ByUse]:
    """How those plans stand that go by use, by the seasons of the scheme. Three queries; none where none does."""
    going = [plan for plan in plans if plan.limits]
    return by_use.standings(going, seasons=Season.objects.periods(), today=today) if going else {}


def soonest_due_first(plans: CarePlanQuerySet, stands: Mapping[int, ByUse]) -> CarePlanQuerySet:
    """By the day on which each is due or expected to be, whichever comes first: as `first_on`."""
    by_keys = [When(pk=key, then=Value(one.first.on)) for key, one in stands.items() if one.first.measure]
    first_on = Case(*by_keys, default=F("due_on"), output_field=DateField())
    return plans.annotate(first_on=first_on).order_by("first_on", "pk")
