"""By how many days all bookings of a machine could be shifted, where it cannot be by as many as was asked."""

from datetime import date, timedelta
from typing import Final

from kitshare.bookings.models import BookedDay, Season
from kitshare.bookings.shifting import MOST_DAYS, Shift
from kitshare.rules import periods
from kitshare.rules.periods import Period

NEAREST: Final = 3


def numbers_that_fit(shift: Shift, *, by_days: int, today: date) -> list[int]:
    """The numbers of days nearest to the one asked by which nothing stands in the way, negative for earlier.

    Two queries, however many bookings there are. Times of day are not asked here: the look over says where they cross.
    """
    held = [
        (machine.pk, day)
        for one in shift.moved
        for machine in one.machines
        for day in periods.held_days(one.booking.period, _care(shift, one.booking.pk, machine.kit.care_days))
    ]
    reach = timedelta(days=MOST_DAYS)
    first, last = min(day for _machine, day in held) - reach, max(day for _machine, day in held) + reach
    rows = BookedDay.objects.filter(machine__in={machine for machine, _day in held}, day__range=(first, last))
    taken = set(rows.exclude(booking__in=list(shift.seen)).values_list("machine_id", "day"))
    seasons = [season.period for season in Season.objects.order_by("opens_on", "pk")]
    spells = [one.booking.period for one in shift.moved]

    def fits(number: int) -> bool:
        moved = timedelta(days=number)
        return all(_can_be(spell.shifted(number), seasons, today) for spell in spells) and not any(
            (machine, day + moved) in taken for machine, day in held
        )

    numbers = sorted(range(-MOST_DAYS, MOST_DAYS + 1), key=lambda number: (abs(number - by_days), number))
    return [number for number in numbers if number and fits(number)][:NEAREST]


def _care(shift: Shift, booking: int, care_days: int) -> int:
    """None after a booking that hands on by a relay which is shifted with it."""
    return 0 if booking in shift.handing_on else care_days


def _can_be(spell: Period, seasons: list[Period], today: date) -> bool:
    return spell.start >= today and any(spell.fits_in(season) for season in seasons)
