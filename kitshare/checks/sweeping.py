"""Photos that no check was ever signed with: kept for a while in case the sheet is still open, then swept."""

from datetime import datetime, timedelta
from typing import Final

from django.utils.translation import ngettext

from kitshare.bookings.models import Booking, Stage
from kitshare.checks.models import Photo
from kitshare.engine import deed
from kitshare.kits.pictures import let_go
from kitshare.logbook import actions as logbook

# While a booking is agreed or out a sheet may be open somewhere. Afterwards none can be signed with the photo.
OPEN: Final = (Stage.AGREED, Stage.OUT)
KEPT_FOR: Final = timedelta(days=14)
AT_ONCE: Final = 200  # in one round, so that a round stays short


def unsigned(at: datetime) -> list[Photo]:
    """Photos old enough that belong to no check and no sheet, of bookings at which none can be signed any more."""
    old = Photo.objects.filter(lines=None, sheets=None, taken_at__lt=at - KEPT_FOR).exclude(booking__stage__in=OPEN)
    return list(old.select_related("booking").order_by("booking_id", "pk")[:AT_ONCE])


def sweep_photos(*, at: datetime) -> int:
    """Take away what `unsigned` finds; how many photos that were.

    The file goes first: a process that dies in between leaves a row that the next round finds again, and so
    does storage that does not answer.
    """
    by_booking: dict[Booking, list[Photo]] = {}
    for photo in unsigned(at):
        if let_go(photo.image.storage, str(photo.image.name)):
            by_booking.setdefault(photo.booking, []).append(photo)
    for booking, photos in by_booking.items():
        _forget(booking=booking, photos=photos, at=at)
    return sum(map(len, by_booking.values()))


@deed
def _forget(*, booking: Booking, photos: list[Photo], at: datetime) -> None:
    Photo.objects.filter(pk__in=[photo.pk for photo in photos], lines=None, sheets=None).delete()
    count = len(photos)
    text = ngettext(
        "Swept %(count)d photo of %(booking)s with which no check was signed.",
        "Swept %(count)d photos of %(booking)s with which no check was signed.",
        count,
    )
    words = {"count": count, "booking": booking}
    logbook.write(deed="photos_swept", text=text % words, about=[booking], by=None, at=at)
