"""Why a file is not brought in, or what it made is not taken back: each with a sentence to show."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.words import day_in_words


class BringingRefused(BookingRefused):
    """Bookings that are not brought in, or not taken back."""


class NotAllFit(BringingRefused):
    """Some rows clash or are not understood, perhaps only since the page was opened: so none is made."""

    def __init__(self, count: int) -> None:
        sentence = ngettext(
            "Nothing was made: %(count)d row is in the way, which is shown below.",
            "Nothing was made: %(count)d rows are in the way, which are shown below.",
            count,
        )
        super().__init__(sentence % {"count": count})


class NothingToMake(BringingRefused):
    """Every row is here already or was left aside."""

    def __init__(self) -> None:
        super().__init__(_("Nothing was made: no row of the file is new."))


class TakenBack(BringingRefused):
    """What the file made was taken back."""

    def __init__(self) -> None:
        super().__init__(_("What this file made was taken back. Send the file again to begin anew."))


class CannotTakeBack(BringingRefused):
    """Something has happened to the bookings since."""

    def __init__(self, moved: Sequence[Booking]) -> None:
        shown = "; ".join(f"{booking.village.name}, {day_in_words(booking.out_on)}" for booking in moved[:5])
        sentence = _(
            "Nothing was taken back. Something has been done since with: %(bookings)s. Call off singly instead."
        )
        super().__init__(sentence % {"bookings": shown})


class PeopleWereTold(BringingRefused):
    """Borrowers have messages about the bookings."""

    def __init__(self) -> None:
        super().__init__(_("The borrowers were told. Call the bookings off singly, so that they hear of it."))
