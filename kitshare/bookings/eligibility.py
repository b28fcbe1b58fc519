"""Whether a deed is open: `check_can_x` raises the reason why not, `x_can` answers yes or no for a page."""

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from typing import Final

from kitshare.bookings.models import AHEAD, HOLDING, Booking, Season, Stage
from kitshare.bookings.refusals import (
    BookingRefused,
    DayIsPast,
    DoesNotSign,
    GoesByRelay,
    KitUnfit,
    MachineRetired,
    MachineStillOut,
    NoMachine,
    NotAtThisStage,
    NotTheirs,
    OutsideSeason,
    TooLong,
    VillageHasLeft,
)
from kitshare.bookings.relay_models import Relay
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period
from kitshare.upkeep import fitness

LONGEST_DAYS: Final = 21


def holds(check: Callable[[], None]) -> bool:
    """Whether a check raises nothing."""
    try:
        check()
    except BookingRefused:
        return False
    return True


def check_can_book(
    *, village: Village, borrower: Member, machines: Sequence[Machine], period: Period, by: Member, today: date
) -> None:
    """All but whether the days are free, which only holding them can tell."""
    if not by.acts_for(village):
        raise NotTheirs
    # Asked anew: what was read before the machines were locked may be over by now.
    if not Village.objects.borrowing().filter(pk=village.pk).exists():
        raise VillageHasLeft(village=village)
    if not village.borrowers.active().filter(pk=borrower.pk).exists():
        raise DoesNotSign(village=village)
    check_days(period=period, today=today)
    check_machines(machines)


def check_days(*, period: Period, today: date) -> None:
    """From today on, within one season, and not for too long."""
    if period.start < today:
        raise DayIsPast(day=period.start)
    season = Season.objects.covering(period.start)
    if season is None or not period.fits_in(season.period):
        raise OutsideSeason(season=season or Season.objects.current_or_next(today))
    if period.length > LONGEST_DAYS:
        raise TooLong(length=period.length, longest=LONGEST_DAYS)


def check_machines(machines: Sequence[Machine]) -> None:
    """At least one, each still lent, none set aside. A test overdue by then refuses nothing yet."""
    if not machines:
        raise NoMachine
    retired = [machine for machine in machines if machine.retired_on or machine.kit.retired_on]
    if retired:
        raise MachineRetired(machines=retired)
    if aside := fitness.set_aside(machines):
        raise KitUnfit(reasons=aside)


def check_fit(machines: Sequence[Machine], *, on: date) -> None:
    """Nothing stops the use of any of them on a day: no fault, and no safety test that is overdue."""
    if found := fitness.stops(machines, on=on):
        raise KitUnfit(reasons=found)


def check_can_agree(*, booking: Booking, machines: Sequence[Machine], by: Member, today: date) -> None:
    """A coordinator, on a booking that still waits for an answer, is not over, and whose machines can be lent."""
    _check_coordinates(by)
    _check_stage(booking, Stage.ASKED)
    if booking.back_on <= today:
        raise DayIsPast(day=booking.out_on)
    check_machines(machines)


def check_can_decline(*, booking: Booking, by: Member) -> None:
    """A coordinator, on a booking that still waits for an answer."""
    _check_coordinates(by)
    _check_stage(booking, Stage.ASKED)


def check_can_change(*, booking: Booking, by: Member) -> None:
    """A coordinator or a borrower of the village, before the kit has left."""
    _check_may_act_for(booking, by)
    _check_stage(booking, *AHEAD)


def check_can_move(*, booking: Booking, machines: Sequence[Machine], period: Period, today: date) -> bool:
    """Whether days or machines differ, and so rows must move; raises where the new ones may not be booked.

    What stays as it was is not asked again: the note of a booking whose day has come can still be mended, and one
    whose mill was set aside can move to days by which it will be mended.
    """
    other_days = period != booking.period
    had = set(booking.machines.values_list("pk", flat=True))
    other_machines = {machine.pk for machine in machines} != had
    if other_days:
        check_days(period=period, today=today)
    if other_machines:
        check_machines(machines)
    return other_days or other_machines


def check_can_sign_over(*, booking: Booking, by: Member, borrower: Member | None = None) -> None:
    """A coordinator or a borrower of the village, until the kit is back; and another who signs for the village."""
    _check_may_act_for(booking, by)
    _check_stage(booking, Stage.WAITING, *HOLDING)
    if borrower is not None and not booking.village.borrowers.active().filter(pk=borrower.pk).exists():
        raise DoesNotSign(village=booking.village)


def check_can_call_off(*, booking: Booking, by: Member) -> None:
    """A coordinator or a borrower of the village, before the kit has left."""
    _check_may_act_for(booking, by)
    _check_stage(booking, *AHEAD)


def check_can_mark_out(
    *, booking: Booking, machines: Sequence[Machine], by: Member, today: date, in_spite: bool = False
) -> None:
    """Agreed, not over, fit, and every machine at home. Anybody who may see the booking may hand it over.

    One that has left in spite of being set aside is not asked whether it is fit.
    """
    _check_may_hand_over(booking, by)
    _check_stage(booking, Stage.AGREED)
    if booking.back_on <= today:
        raise DayIsPast(day=booking.out_on)
    if not in_spite:
        check_fit(machines, on=today)
    if Relay.objects.pending().filter(second=booking).exists():
        raise GoesByRelay
    others = Booking.objects.filter(stage=Stage.OUT, machines__in=machines).exclude(pk=booking.pk)
    away = others.select_related("village").order_by("out_on", "pk").first()
    if away is not None:
        still_there = set(away.machines.values_list("pk", flat=True))
        raise MachineStillOut(booking=away, machines=[machine for machine in machines if machine.pk in still_there])


def check_can_mark_back(*, booking: Booking, by: Member) -> None:
    """Out, and seen by anybody who may see the booking."""
    _check_may_hand_over(booking, by)
    _check_stage(booking, Stage.OUT)


def check_can_close(*, booking: Booking, by: Member) -> None:
    """A coordinator, once the kit is back."""
    _check_coordinates(by)
    _check_stage(booking, Stage.BACK)


def agree_can(*, booking: Booking, machines: Sequence[Machine], by: Member, today: date) -> bool:
    return holds(partial(check_can_agree, booking=booking, machines=machines, by=by, today=today))


def decline_can(*, booking: Booking, by: Member) -> bool:
    return holds(partial(check_can_decline, booking=booking, by=by))


def change_can(*, booking: Booking, by: Member) -> bool:
    return holds(partial(check_can_change, booking=booking, by=by))


def sign_over_can(*, booking: Booking, by: Member) -> bool:
    return holds(partial(check_can_sign_over, booking=booking, by=by))


def call_off_can(*, booking: Booking, by: Member) -> bool:
    return holds(partial(check_can_call_off, booking=booking, by=by))


def close_can(*, booking: Booking, by: Member) -> bool:
    return holds(partial(check_can_close, booking=booking, by=by))


def _check_coordinates(by: Member) -> None:
    if not by.coordinates:
        raise NotTheirs


def _check_may_act_for(booking: Booking, by: Member) -> None:
    if not by.acts_for(booking.village):
        raise NotTheirs


def _check_may_hand_over(booking: Booking, by: Member) -> None:
    """In a relay each of the two villages also signs for the other's end."""
    if not by.maintains and not Relay.objects.of(booking).visible_to(by).exists():
        _check_may_act_for(booking, by)


def _check_stage(booking: Booking, *stages: Stage) -> None:
    if booking.stage not in stages:
        raise NotAtThisStage(booking=booking)
