"""Heat records and recalls that cannot be, each with a sentence to show."""

from datetime import date

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.pressdays.heat_models import MOST_BATCHES, MOST_BOTTLES, MOST_LITRES, HeatRecord
from kitshare.upkeep.words import day_with_year


class HeatRefused(Exception):
    """A record that cannot be so. `field` names what to correct, if one thing typed is at fault."""

    field: str | None = None


class NotTheirsToRecord(HeatRefused):
    """Somebody who neither signs for the village nor coordinates."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("Heat records are added by those who sign for %(village)s and by the coordinator.")
        super().__init__(sentence % {"village": booking.village})


class NothingHeatedYet(HeatRefused):
    """The machines were not promised, or not yet."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("This booking is %(stage)s: nothing was heated with it.")
        super().__init__(sentence % {"stage": booking.get_stage_display()})


class BatchNumberTaken(HeatRefused):
    """Another batch of the booking has this number."""

    field = "number"

    def __init__(self, record: HeatRecord, free: int) -> None:
        words = {"number": record.number, "code": record.shown_code, "free": free}
        sentence = _(
            "Batch %(number)s is recorded already, under %(code)s. The next free number is %(free)s."
            " To put a mistake right, replace that record from its own page."
        )
        super().__init__(sentence % words)


class NumberNotSensible(HeatRefused):
    """Less than one, or more batches than a booking has days for."""

    field = "number"

    def __init__(self) -> None:
        super().__init__(_("Batches are numbered from 1 to %(most)s.") % {"most": MOST_BATCHES})


class FilledOutside(HeatRefused):
    """A day before the machines were there, or one that is still to come."""

    field = "filled_on"

    def __init__(self, booking: Booking, today: date) -> None:
        words = {"first": day_with_year(booking.out_on), "last": day_with_year(today)}
        super().__init__(_("The bottles were filled between %(first)s, when the machines went out, and today.") % words)


class NotWithThisBooking(HeatRefused):
    """A pasteuriser or a probe that did not travel with the booking."""

    def __init__(self, field: str) -> None:
        super().__init__(_("It did not travel with this booking. Choose another."))
        self.field = field


class BottlesNotSensible(HeatRefused):
    """No bottles, or more than a batch can have."""

    field = "bottles"

    def __init__(self) -> None:
        super().__init__(_("A batch has from 1 to %(most)s bottles.") % {"most": MOST_BOTTLES})


class LitresNotSensible(HeatRefused):
    """No juice, or more than a batch can have."""

    field = "litres"

    def __init__(self) -> None:
        super().__init__(_("A batch has more than 0 and at most %(most)s litres.") % {"most": MOST_LITRES})


class ContainerNotSaid(HeatRefused):
    """Nobody can look for bottles of no kind."""

    field = "container"

    def __init__(self) -> None:
        super().__init__(_("Say what the juice is in, such as “0.75 L glass bottle”."))


class AcidityNotSensible(HeatRefused):
    """Not a pH."""

    field = "ph"

    def __init__(self) -> None:
        super().__init__(_("A pH lies between 0 and 14; apple juice is between 3 and 4."))


class WhyNotSaid(HeatRefused):
    """A record that replaces another says why."""

    field = "why_replaced"

    def __init__(self) -> None:
        super().__init__(_("Say why it replaces the older record."))


class ReplacedAlready(HeatRefused):
    """Another record stands in its place already."""

    def __init__(self, record: HeatRecord) -> None:
        sentence = _("Another record of %(code)s stands in its place already. Replace that one, if it is wrong too.")
        super().__init__(sentence % {"code": record.shown_code})


class RecallRefused(Exception):
    """A recall that cannot be so."""

    field: str | None = None


class NotTheirsToRecall(RecallRefused):
    """Batches are recalled by coordinators."""

    def __init__(self) -> None:
        super().__init__(_("Batches are recalled by the coordinator. Telephone the coordinator at once."))


class NothingChosen(RecallRefused):
    """A recall of no batch."""

    field = "codes"

    def __init__(self) -> None:
        super().__init__(_("Tick the batches to recall, or type their codes."))


class NothingSaid(RecallRefused):
    """A recall that does not say why, or what to do."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class RecalledAlready(RecallRefused):
    """A batch is asked back already."""

    field = "codes"

    def __init__(self, record: HeatRecord) -> None:
        super().__init__(_("%(code)s is recalled already. Leave it out.") % {"code": record.shown_code})


class RecallOver(RecallRefused):
    """A recall that was ended."""

    def __init__(self) -> None:
        super().__init__(_("This recall is over already."))
