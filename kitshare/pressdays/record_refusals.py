"""Records of a press day that cannot be, each with a sentence to show."""

from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.words import day_in_words, from_day_to_day
from kitshare.kits.models import Machine
from kitshare.pressdays.record_models import (
    MOST_BATCHES,
    MOST_BOTTLES,
    MOST_HELPERS,
    MOST_HOURS,
    MOST_KG,
    USES,
    Given,
    PressDayRecord,
)
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE
from kitshare.rules.yields import LEAST_YIELD


class RecordRefused(Exception):
    """A record that cannot be. `field` names what to correct, if one thing is."""

    field: str | None = None


class NotTheirsToRecord(RecordRefused):
    """Somebody who neither signs for the village nor coordinates."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("What the day gave is written down by those who sign for %(village)s and by the coordinator.")
        super().__init__(sentence % {"village": booking.village})


class NothingToRecord(RecordRefused):
    """The kit has not gone out, or never will."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("This booking is %(stage)s: there is no press day to record.")
        super().__init__(sentence % {"stage": booking.get_stage_display()})


class DayNotOfBooking(RecordRefused):
    """A day on which the kit was not with the village, or one that has not come yet."""

    field = "day"

    def __init__(self, first: date, last: date) -> None:
        sentence = _("The kit was with the village on %(days)s. Give one of those days.")
        super().__init__(sentence % {"days": from_day_to_day(first, last)})


class DayRecordedAlready(RecordRefused):
    """There is a record of this day. `record` is that one."""

    field = "day"

    def __init__(self, record: PressDayRecord) -> None:
        sentence = _("%(day)s is recorded already, by %(who)s. Correct that record, or give another day.")
        super().__init__(sentence % {"day": day_in_words(record.day), "who": record.recorded_by.name})
        self.record = record


class DayChangedMeanwhile(RecordRefused):
    """Somebody corrected the record since this form was opened. `record` is as it stands now."""

    def __init__(self, record: PressDayRecord, differences: str) -> None:
        sentence = _(
            "%(who)s corrected this record since you opened it. Saved now: %(differences)s."
            " What you typed is still below; save once more to put it in place of theirs."
        )
        super().__init__(sentence % {"who": record.recorded_by.name, "differences": differences})
        self.record = record


class MachineNotTaken(RecordRefused):
    """A machine that was not of this booking."""

    field = "machines"

    def __init__(self, machine: Machine) -> None:
        super().__init__(_("%(machine)s did not go out with this booking.") % {"machine": machine})


class AmountNotBelieved(RecordRefused):
    """A figure outside what a press day has."""

    def __init__(self, field: str, least: Decimal | int, most: Decimal | int) -> None:
        sentence = _("Give a number from %(least)s to %(most)s.")
        super().__init__(sentence % {"least": least, "most": most})
        self.field, self.least, self.most = field, least, most


class MoreThanItsFruit(RecordRefused):
    """More juice than the fruit weighs. `juice_kg` is what the juice would weigh."""

    def __init__(self, field: str, litres: Decimal) -> None:
        super().__init__(
            _("That is more juice than the fruit weighs. Look at both figures: the juice of all uses, and the fruit.")
        )
        self.field, self.litres, self.juice_kg = field, litres, litres * JUICE_KG_PER_LITRE


class HardlyAnyJuice(RecordRefused):
    """So little juice that a figure must be a slip."""

    field = "pressed_kg"

    def __init__(self) -> None:
        super().__init__(
            _(
                "That is hardly any juice for so much fruit. Is some of it left out below? If the day ended early,"
                " count only the fruit that was pressed."
            )
        )


class BottlesHalfTold(RecordRefused):
    """How many bottles were brought, or how many were broken, without the other; `field` is what is missing."""

    def __init__(self, field: str) -> None:
        sentences = {
            "reused_brought": _("Say of how many, or leave both out."),
            "reused_broken": _("Say how many of them; 0 when none was. Or leave both out."),
        }
        super().__init__(sentences[field])
        self.field = field


class MoreBrokenThanBrought(RecordRefused):
    """More bottles broken than there were."""

    field = "reused_broken"

    def __init__(self, brought: int) -> None:
        super().__init__(_("That is more than the %(brought)s that were brought.") % {"brought": brought})


def check_believable(given: Given) -> None:
    """Raise RecordRefused for figures that no press day has, the first of them."""
    bounds: dict[str, tuple[Decimal | int, Decimal | int]] = {
        "pressed_kg": (Decimal(0), MOST_KG),
        "waste_kg": (Decimal(0), MOST_KG),
        **{f"litres_{use}": (Decimal(0), MOST_KG) for use in USES},
        "hours": (Decimal("0.1"), MOST_HOURS),
        "helpers": (1, MOST_HELPERS),
        "batches": (0, MOST_BATCHES),
        "reused_brought": (0, MOST_BOTTLES),
        "reused_broken": (0, MOST_BOTTLES),
    }
    for field, (least, most) in bounds.items():
        value = getattr(given, field)
        if value is not None and not (Decimal(value).is_finite() and least <= value <= most):
            raise AmountNotBelieved(field, least, most)
    _check_bottles(given)
    by_use = {f"litres_{use}": getattr(given, f"litres_{use}") for use in USES}
    litres = sum(by_use.values(), Decimal(0))
    if litres * JUICE_KG_PER_LITRE > given.pressed_kg:
        raise MoreThanItsFruit(max(by_use, key=lambda use: by_use[use]), litres)
    if given.pressed_kg > 0 and litres < given.pressed_kg * Decimal(str(LEAST_YIELD)):
        raise HardlyAnyJuice


def _check_bottles(given: Given) -> None:
    brought, broken = given.reused_brought, given.reused_broken
    if brought is None and broken is not None:
        raise BottlesHalfTold("reused_brought")
    if brought is not None and broken is None:
        raise BottlesHalfTold("reused_broken")
    if brought is not None and broken is not None and broken > brought:
        raise MoreBrokenThanBrought(brought)
