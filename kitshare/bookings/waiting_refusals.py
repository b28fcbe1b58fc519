"""Why something about the waiting list cannot be: each with a sentence fit to show a village."""

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.waiting_models import Offer, Standing


class DaysAreFree(BookingRefused):
    """Nobody needs to wait for days that nobody has."""

    field = "days"

    def __init__(self) -> None:
        super().__init__(_("These days are free now: book them, there is nothing to wait for."))


class WaitsAlready(BookingRefused):
    """The village waits for one of these machines on these days already."""

    def __init__(self, *, booking: Booking) -> None:
        words = {"village": booking.village.name}
        super().__init__(_("%(village)s is on the waiting list for these days already.") % words)
        self.booking = booking


class NotWaiting(BookingRefused):
    """The booking is not on the waiting list, or no longer."""

    def __init__(self, *, booking: Booking) -> None:
        words = {"stage": booking.get_stage_display()}
        super().__init__(_("It is not on the waiting list any longer: the booking is %(stage)s.") % words)
        self.booking = booking


class OfferEnded(BookingRefused):
    """The offer was answered, ran out or was withdrawn meanwhile."""

    def __init__(self, *, offer: Offer) -> None:
        sentences = {
            Standing.ACCEPTED: _("This offer was accepted already."),
            Standing.PASSED: _("This offer was passed on already."),
            Standing.LAPSED: _("This offer ran out before it was answered. The days went on to the next who wait."),
            Standing.WITHDRAWN: _("This offer was withdrawn. %(reason)s"),
        }
        words = sentences.get(Standing(offer.standing), _("This offer is open."))
        super().__init__((words % {"reason": offer.reason}).strip())
        self.offer = offer


class OfferIsOpen(BookingRefused):
    """Days are offered to it now: that must be answered first."""

    def __init__(self) -> None:
        super().__init__(_("Days are offered to this village now. Wait for the answer, or accept or pass for them."))


class DoesNotFit(BookingRefused):
    """Something keeps it from being offered any day."""

    def __init__(self, why: str) -> None:
        super().__init__(_("It cannot be offered anything now. %(why)s") % {"why": why})


class TooLateToOffer(BookingRefused):
    """The days begin too soon for anybody to answer."""

    def __init__(self) -> None:
        super().__init__(_("The days begin too soon to offer them. Telephone the village, and book for them."))


class NobodyThere(BookingRefused):
    """There is nobody to change places with."""

    def __init__(self) -> None:
        super().__init__(_("Nobody on that side of the order wants any of these machines on these days."))


class OrderReasonMissing(BookingRefused):
    """The order is not overruled without saying why."""

    field = "reason"

    def __init__(self) -> None:
        super().__init__(_("Say why: it stands in the logbook."))
