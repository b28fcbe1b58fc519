"""A check that was begun and put down: kept for the same person, or for another at another phone."""

from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.models import CheckKind
from kitshare.checks.sent_models import PausedSheet
from kitshare.engine import deed
from kitshare.people.models import Member

MOST_LETTERS: Final = 200_000  # of a whole sheet; the longest kit with a note at every part stays well below


class TooLongToKeep(HandoverRefused):
    """More than any sheet holds."""

    def __init__(self) -> None:
        super().__init__(_("This is more than a sheet holds, so it was not kept."))


@deed
def pause_sheet(
    *, booking: Booking, kind: CheckKind, fields: dict[str, str], seen: int, total: int, by: Member, at: datetime
) -> PausedSheet:
    """Keep what a member has ticked so far of a check, in place of what they kept before."""
    if sum(map(len, fields.values())) > MOST_LETTERS:
        raise TooLongToKeep
    pause, _is_new = PausedSheet.objects.update_or_create(
        booking=booking,
        kind=kind,
        by=by,
        defaults={"fields": fields, "seen": seen, "total": total, "paused_at": at},
        create_defaults={"fields": fields, "seen": seen, "total": total, "paused_at": at, "began_at": at},
    )
    return pause


def pauses_of(booking: Booking, kind: CheckKind) -> list[PausedSheet]:
    """What people began of a check, the newest first."""
    return list(
        PausedSheet.objects.filter(booking=booking, kind=kind).select_related("by").order_by("-paused_at", "-pk")
    )


def clear_pauses(booking: Booking, kind: str) -> None:
    """The check is made: nobody carries it on."""
    PausedSheet.objects.filter(booking=booking, kind=kind).delete()
