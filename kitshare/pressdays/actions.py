"""Every change to the plan of a press day."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from kitshare.bookings.fruit import change_fruit
from kitshare.bookings.models import Booking
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme
from kitshare.pressdays.models import AtHand, ContainerKind, PlanShare, PressPlan
from kitshare.pressdays.planning import recommendation_of
from kitshare.pressdays.refusals import (
    FruitChangedMeanwhile,
    NotAhead,
    NotTheirsToPlan,
    PlanChangedMeanwhile,
    PlanRefused,
)
from kitshare.pressdays.wanted import Wanted, wanted_for
from kitshare.pressdays.wanted_words import check_wanted, differences, in_words

Counted = tuple[Decimal, str]
"""An amount of fruit and what it is counted in."""


def check_can_plan(*, booking: Booking, by: Member) -> None:
    """Raise PlanRefused unless this member may change the plan of this booking now."""
    if not by.acts_for(booking.village):
        raise NotTheirsToPlan(booking)
    if not booking.is_ahead:
        raise NotAhead(booking)


def why_not_plan(*, booking: Booking, by: Member) -> str:
    """Why this member may not change the plan of this booking now; empty when they may."""
    try:
        check_can_plan(booking=booking, by=by)
    except PlanRefused as refused:
        return str(refused)
    return ""


@deed
def save_plan(
    *,
    booking: Booking,
    wanted: Wanted,
    by: Member,
    at: datetime,
    fruit: Counted | None = None,
    seen_fruit: Counted | None = None,
    seen_revision: int | None = None,
) -> PressPlan:
    """Keep what a village wants of its day: what becomes of the juice, in what, and what it has at hand itself.

    `fruit` is what it expects to pick, where that is said anew: then the booking says so too. `seen_fruit` and
    `seen_revision` are of the booking and the plan that the person had before them, 0 for no plan; without them the
    last save counts. Saving what is saved already changes nothing, so that a double tap is one save.
    """
    check_can_plan(booking=booking, by=by)
    wanted = replace(wanted, parts=tuple(part for part in wanted.parts if part.percent))
    if fruit is not None and fruit != seen_fruit:
        _change_fruit(booking, fruit, seen_fruit, by=by, at=at)
    booking = Booking.objects.select_for_update(of=("self",)).select_related("village").get(pk=booking.pk)
    check_can_plan(booking=booking, by=by)
    before = wanted_for(booking, ContainerKind.objects.order_by("position", "pk"))
    plan = before.plan
    check_wanted(wanted, before=before if plan else None, heat=recommendation_of(Scheme.objects.current() or Scheme()))
    if plan and before.says == wanted.says:
        return plan
    if plan and seen_revision is not None and seen_revision != plan.revision:
        raise PlanChangedMeanwhile(plan, differences(before, wanted))
    if plan is None:
        plan = PressPlan(booking=booking, revision=0)
        words = _("Planned the press day: %(plan)s.") % {"plan": in_words(wanted)}
    else:
        words = _("Changed the plan of the press day: %(changes)s.") % {"changes": differences(wanted, before)}
    _write(plan, wanted, by=by, at=at)
    logbook.write(deed="plan_saved", text=words, about=[booking, booking.village], by=by, at=at)
    return plan


def _change_fruit(booking: Booking, fruit: Counted, seen: Counted | None, *, by: Member, at: datetime) -> None:
    now = Booking.objects.get(pk=booking.pk)
    if seen is not None and (now.fruit_amount, now.fruit_unit) not in (seen, fruit):
        raise FruitChangedMeanwhile(now)
    change_fruit(booking=booking, fruit_amount=fruit[0], fruit_unit=fruit[1], by=by, at=at)


def _write(plan: PressPlan, wanted: Wanted, *, by: Member, at: datetime) -> None:
    plan.yield_expected, plan.fruit_word = wanted.yield_expected, wanted.fruit_word
    plan.sorted_out_percent = wanted.sorted_out_percent
    plan.changed_at, plan.changed_by = at, by
    plan.revision += 1
    plan.save()
    plan.shares.all().delete()
    plan.at_hand.all().delete()
    PlanShare.objects.bulk_create(
        PlanShare(plan=plan, use=part.use.value, kind=part.kind, percent=part.percent) for part in wanted.parts
    )
    AtHand.objects.bulk_create(
        AtHand(plan=plan, kind=kind, number=number) for kind, number in wanted.at_hand.items() if number
    )
