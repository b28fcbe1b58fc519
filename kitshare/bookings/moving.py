"""Moving a booking to other days, all else as it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from kitshare.bookings import actions, days, eligibility, notices, offering, recording, times
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.rules.periods import Period

NEAREST_SHOWN: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """What a move would do: whom it tells, which relays end by it, whether it needs a new answer."""

    period: Period
    days_later: int
    told: list[Member]
    relays_ended: list[Relay]
    waits_again: bool

    @property
    def days_earlier(self) -> int:
        return -self.days_later


@deed
def move_booking(*, booking: Booking, period: Period, by: Member, at: datetime, today: date, revision: int) -> Booking:
    """Give a booking other days. If these are taken, the old ones are still held."""
    # All that the change will lock, in one go: in two it would be out of order.
    booking, machines = recording.lock(booking, revision, also=offering.beside(booking))
    return actions.change_booking(
        booking=booking,
        machines=machines,
        period=period,
        fruit_amount=booking.fruit_amount,
        fruit_unit=booking.fruit_unit,
        note=booking.note,
        by=by,
        at=at,
        today=today,
        revision=revision,
    )


def look_at_move(*, booking: Booking, machines: Sequence[Machine], period: Period, by: Member, today: date) -> Move:
    """What `move_booking` would do now. Raises the reason why it cannot be done."""
    eligibility.check_can_change(booking=booking, by=by)
    eligibility.check_can_move(booking=booking, machines=machines, period=period, today=today)
    days.check_is_free(machines=machines, period=period, today=today, besides=booking)
    meets = {"out_time": booking.out_time, "back_time": booking.back_time}
    times.check_in_order(machines=machines, period=period, **meets, besides=booking)
    return Move(
        period=period,
        days_later=(period.start - booking.out_on).days,
        told=notices.told_of_other_days(booking=booking, by=by),
        relays_ended=relays_ended_by(booking, period),
        waits_again=booking.stage == Stage.AGREED and not by.coordinates and period != booking.period,
    )


def relays_ended_by(booking: Booking, period: Period) -> list[Relay]:
    """The relays whose villages would no longer meet."""
    found = Relay.objects.pending().of(booking).with_bookings().order_by("pk")
    return [
        relay
        for relay in found
        if (period.end != relay.second.out_on if relay.first.pk == booking.pk else period.start != relay.first.back_on)
    ]


def days_that_fit(*, booking: Booking, machines: Sequence[Machine], today: date) -> list[Period]:
    """Every spell of its season as long as the booking on which all its machines are free; the nearest come first."""
    found = days.nearest_free(machines=machines, wanted=booking.period, today=today, besides=booking, count=days.EVERY)
    return [spell for spell in found if spell != booking.period]
