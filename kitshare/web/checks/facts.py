"""What the page of a booking shows about its checks."""

from dataclasses import dataclass
from datetime import date

from kitshare.bookings import briefing, fit
from kitshare.bookings.models import Booking, Stage
from kitshare.checks.gates import check_pickup_can_start, why_not
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.checks.sent_models import SentSheet
from kitshare.people.models import Member


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverFacts:
    """The checks made so far, oldest first, and which one comes next."""

    booking: Booking
    checks: list[HandoverCheck]
    next_kind: CheckKind | None
    why_not_yet: str
    is_unbriefed: bool  # its borrower has not confirmed this season's briefing
    sheets: list[SentSheet]  # from phones, not recorded, still to be settled

    @property
    def next_is_pickup(self) -> bool:
        return self.next_kind == CheckKind.PICKUP

    @property
    def next_is_return(self) -> bool:
        return self.next_kind == CheckKind.RETURN


def to_mind(booking: Booking, today: date) -> list[str]:
    """What cautions whoever takes the machines on: faults to use with care, services due, tasks not ticked off."""
    found = fit.reasons(booking.machines.all(), on=max(booking.out_on, today), today=today)
    return [str(reason) for reason in found if not reason.stops]


def handovers_of(booking: Booking, member: Member, today: date) -> HandoverFacts:
    """For `checks/summary.html`. The member may see the booking already; seven queries at most, whatever the kit."""
    checks = list(
        HandoverCheck.objects.of(booking).select_related("by", "from_booking__village").order_by("done_at", "pk")
    )
    sheets = list(SentSheet.objects.visible_to(member).loud().filter(booking=booking).order_by("received_at", "pk"))
    next_kind, reason = None, ""
    if booking.stage == Stage.AGREED:
        next_kind = CheckKind.PICKUP
        refusal = why_not(lambda: check_pickup_can_start(booking=booking, by=member, today=today))
        reason = str(refusal or "")
    elif booking.stage == Stage.OUT:
        next_kind = CheckKind.RETURN
    return HandoverFacts(
        booking=booking,
        checks=checks,
        next_kind=next_kind,
        why_not_yet=reason,
        is_unbriefed=booking.is_ahead and briefing.is_open(booking),
        sheets=sheets,
    )
