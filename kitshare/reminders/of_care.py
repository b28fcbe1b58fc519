"""What rows can be about at the workbench: services and safety tests that are due."""

from collections.abc import Iterator
from datetime import date, datetime
from functools import partial

from django.db.models import F
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.reminders.ground import Ground
from kitshare.reminders.models import Kind
from kitshare.reminders.occasions import ALWAYS, EVER, Occasion
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep.care_models import CareKind, CarePlan, CareRecord
from kitshare.upkeep.words import day_with_year


def services(ground: Ground) -> Iterator[Occasion]:
    """Routine care by the calendar."""
    return _falling_due(ground, Kind.SERVICE, are_tests=False)


def tests(ground: Ground) -> Iterator[Occasion]:
    """Safety tests."""
    return _falling_due(ground, Kind.TEST, are_tests=True)


def thread_of_plan(plan: CarePlan) -> str:
    return f"care:{plan.pk}"


def page_of_plan(plan: CarePlan) -> str:
    return reverse("upkeep:plan", args=[plan.pk])


def _falling_due(ground: Ground, kind: Kind, *, are_tests: bool) -> Iterator[Occasion]:
    """Each day on which a plan is due, until it is done. One query; of other days one more, for what was done since."""
    first, last = ground.days(kind)
    plans = CarePlan.objects.tests() if are_tests else CarePlan.objects.in_force().filter(kind=CareKind.SERVICE)
    for plan in plans.filter(due_on__lte=last).select_related("machine__kit").soonest_first():
        yield _due(ground, plan, plan.due_on, since=plan.added_at if ground.other_days else ALWAYS, until=EVER)
    if ground.other_days:
        done = CareRecord.objects.filter(plan__in=plans, at__gte=ground.first, due_before_on__range=(first, last))
        for record in done.exclude(due_before_on=F("plan__due_on")).select_related("plan__machine__kit").order_by("pk"):
            yield _due(ground, record.plan, record.due_before_on, since=record.plan.added_at, until=record.at)


def _due(ground: Ground, plan: CarePlan, due_on: date, *, since: datetime, until: datetime) -> Occasion:
    overdue = is_overdue(due_on, on=ground.today)
    words = {"what": str(plan), "day": day_with_year(due_on)}
    subject = _("Overdue since %(day)s: %(what)s") if overdue else _("Due on %(day)s: %(what)s")
    return Occasion(
        about=f"{plan.pk}:{due_on}",
        day=due_on,
        subject=subject % words,
        template="care_due",
        thread=thread_of_plan(plan),
        page=page_of_plan(plan),
        since=since,
        until=until,
        words=partial(dict, plan=plan, day=words["day"], is_overdue=overdue),
    )
