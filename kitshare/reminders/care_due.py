"""Works out who should hear that a service or a safety test falls due, or is overdue. It only reads."""

from datetime import date, datetime

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Season
from kitshare.outbox.models import Message
from kitshare.people.models import Member, Scheme
from kitshare.reminders.due import FROM_HOUR
from kitshare.reminders.letters import Letter
from kitshare.rules.servicing import NOTICE, is_overdue
from kitshare.upkeep import by_use
from kitshare.upkeep.by_use import ByUse
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.use_limits import amount_in_words
from kitshare.upkeep.words import day_with_year


def care_falling_due(*, scheme: Scheme, at: datetime) -> list[Letter]:
    """A letter to each maintenance volunteer, once two weeks before and once when it is overdue; or due by use.

    Where nobody mends, the coordinators are told. A day that moves is told anew: it is another day.
    """
    local = at.astimezone(scheme.zone)
    today = local.date()
    if local.hour < FROM_HOUR:
        return []
    due = CarePlan.objects.in_force().filter(due_on__lte=today + NOTICE).select_related("machine__kit")
    plans = list(due.soonest_first())
    by_then = {plan.pk for plan in plans}
    reached = [one for one in _by_use(today) if one.reached and one.plan.pk not in by_then]
    if not plans and not reached:
        return []
    to = list(Member.objects.maintaining()) or list(Member.objects.coordinating())
    told = set(
        Message.objects.filter(
            thread__in=[_thread(plan) for plan in [*plans, *(one.plan for one in reached)]]
        ).values_list("key", flat=True)
    )
    letters = [_letter(plan, member, scheme, today) for plan in plans for member in to]
    letters += [_letter_by_use(one, member, scheme) for one in reached for member in to]
    return [one for one in letters if one.key not in told]


def _by_use(today: date) -> list[ByUse]:
    """How the services stand that go by use. One query where none does."""
    plans = list(CarePlan.objects.by_use().select_related("machine__kit").soonest_first())
    if not plans:
        return []
    return list(by_use.standings(plans, seasons=Season.objects.periods(), today=today).values())


def _letter_by_use(found: ByUse, member: Member, scheme: Scheme) -> Letter:
    """Told once between two records: the day of the last one is in the key."""
    limit = found.reached
    assert limit is not None  # noqa: S101
    used = amount_in_words(limit.measure, limit.used.amount)
    words = {"what": str(found.plan), "used": used}
    values = {
        "to": member,
        "plan": found.plan,
        "scheme": scheme,
        "used": used,
        "every": amount_in_words(limit.measure, limit.every),
        "address": settings.SITE_ADDRESS.rstrip("/") + reverse("upkeep:plan", args=[found.plan.pk]),
    }
    with timezone.override(scheme.zone):
        body = render_to_string("post/letters/care_by_use.txt", values)
    return Letter(
        key=f"care-by-use:{found.plan.pk}:{found.since}:{member.pk}",
        to=member,
        subject=_("Due after %(used)s: %(what)s") % words,
        body=body.strip() + "\n",
        thread=_thread(found.plan),
    )


def _thread(plan: CarePlan) -> str:
    return f"care:{plan.pk}"


def _letter(plan: CarePlan, member: Member, scheme: Scheme, today: date) -> Letter:
    overdue = is_overdue(plan.due_on, on=today)
    words = {"what": str(plan), "day": day_with_year(plan.due_on)}
    subject = _("Overdue since %(day)s: %(what)s") if overdue else _("Due on %(day)s: %(what)s")
    values = {
        "to": member,
        "plan": plan,
        "scheme": scheme,
        "day": words["day"],
        "is_overdue": overdue,
        "address": settings.SITE_ADDRESS.rstrip("/") + reverse("upkeep:plan", args=[plan.pk]),
    }
    with timezone.override(scheme.zone):
        body = render_to_string("post/letters/care_due.txt", values)
    event = "care-overdue" if overdue else "care-due"
    return Letter(
        key=f"{event}:{plan.pk}:{plan.due_on}:{member.pk}",
        to=member,
        subject=subject % words,
        body=body.strip() + "\n",
        thread=_thread(plan),
    )
