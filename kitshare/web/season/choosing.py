"""A month to choose a day from: on which a booking could go out, and on which it could not."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.dates import WEEKDAYS_ABBR
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.rules.periods import Period


@dataclass(frozen=True, slots=True, kw_only=True)
class DayToChoose:
    """`key` is empty for a day that cannot be asked for at all."""

    day: date
    key: str
    look: str
    word: str


def weekday_names() -> list[str]:
    return [str(WEEKDAYS_ABBR[number]) for number in range(7)]


def weeks_to_choose(
    *, month: Period, booking: Booking, fits: Iterable[Period], season: Period | None, today: date
) -> list[list[DayToChoose | None]]:
    """The month by weeks, Monday first; None where a day is another month's."""
    starts = {spell.start for spell in fits}
    first = month.start - timedelta(days=month.start.weekday())
    last = month.last_day + timedelta(days=6 - month.last_day.weekday())
    every = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    days = [
        _day(day, booking=booking, starts=starts, season=season, today=today) if month.contains(day) else None
        for day in every
    ]
    return [days[start : start + 7] for start in range(0, len(days), 7)]


def _day(day: date, *, booking: Booking, starts: Collection[date], season: Period | None, today: date) -> DayToChoose:
    if booking.period.contains(day) and day == booking.out_on:
        return DayToChoose(day=day, key="", look="now", word=_("now"))
    if day < today or season is None or not season.contains(day):
        return DayToChoose(day=day, key="", look="never", word="")
    if day in starts:
        return DayToChoose(day=day, key=day.isoformat(), look="fits", word=_("fits"))
    return DayToChoose(day=day, key=day.isoformat(), look="taken", word=_("why not"))
