"""Since when a booking stood as it did, read from the logbook: the booking's row says only how it stands now."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.times import moment_of
from kitshare.logbook.models import Mention
from kitshare.reminders.occasions import EVER

DEEDS: Final = ("booking_agreed", "booking_out", "booking_back")
WENT: Final = (Stage.OUT, Stage.BACK, Stage.CLOSED)
CAME_BACK: Final = (Stage.BACK, Stage.CLOSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """When a booking was agreed, went out, came back, and was called off; EVER for what has not been."""

    agreed_at: datetime
    out_at: datetime
    back_at: datetime
    ended_at: datetime


def stood(bookings: Sequence[Booking], *, zone: tzinfo) -> dict[int, Stood]:
    """How each booking stood, by its key. One query.

    A booking that came from a file has no such lines: it is taken to have gone and come on its own days.
    """
    kind = Booking._meta.label_lower
    lines = Mention.objects.filter(
        kind=kind, key__in=[booking.pk for booking in bookings], entry__deed__in=DEEDS
    ).order_by("entry__at", "entry_id")
    found: dict[tuple[int, str], datetime] = {}
    for key, deed, at in lines.values_list("key", "entry__deed", "entry__at"):
        found[key, deed] = at
    return {booking.pk: _one(booking, found, zone) for booking in bookings}


def _one(booking: Booking, found: dict[tuple[int, str], datetime], zone: tzinfo) -> Stood:
    def at(deed: str) -> datetime | None:
        return found.get((booking.pk, deed))

    was_agreed = booking.stage in {Stage.AGREED, *WENT} or at("booking_agreed") is not None
    out_at = back_at = EVER
    if booking.stage in WENT:
        out_at = at("booking_out") or moment_of(booking.out_on, booking.out_time, zone)
    if booking.stage in CAME_BACK:
        back_at = at("booking_back") or moment_of(booking.back_on, booking.back_time, zone)
    return Stood(
        agreed_at=(at("booking_agreed") or booking.asked_at) if was_agreed else EVER,
        out_at=out_at,
        back_at=back_at,
        ended_at=booking.ended_at or EVER,
    )
