"""Bookings that nobody answered before their days were over: the site ends them, and says so."""

from datetime import date, datetime

from django.utils.translation import gettext as _

from kitshare.bookings import notices, recording
from kitshare.bookings.models import Booking, Stage
from kitshare.engine import deed


def unanswered(today: date) -> list[Booking]:
    """Bookings still only asked whose days are over."""
    return list(Booking.objects.filter(stage=Stage.ASKED, back_on__lte=today).order_by("back_on", "pk"))


@deed
def end_unanswered(*, booking: Booking, at: datetime, today: date) -> bool:
    """End a booking that can no longer be agreed, and tell the village and the coordinators; False if it can."""
    booking, machines = recording.lock(booking)
    if booking.stage != Stage.ASKED or booking.back_on > today:
        return False
    reason = _("Nobody answered before its days were over.")
    recording.end(Stage.DECLINED, booking=booking, reason=reason, at=at)
    text = _("The booking of %(village)s, %(days)s, was ended. %(reason)s")
    recording.record("booking_lapsed", text, booking=booking, machines=machines, by=None, at=at)
    notices.lapsed(booking=booking, machines=machines, at=at)
    return True
