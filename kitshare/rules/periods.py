"""Days on which a machine is spoken for, and the free spells between them.

Every stretch of days is half-open: it holds its start and not its end. A kit that comes back on
Monday morning frees the Monday, so that the next village may take it out the same day.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

ONE_DAY = timedelta(days=1)
SATURDAY = 5  # as date.weekday() counts
WEEKEND_DAYS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """The days from `start` up to, but not including, `end`. Never empty.

    Raises TypeError for a moment in place of a day (a datetime is also a date, and would compare
    wrongly), ValueError when `end` is not after `start`.
    """

    start: date
    end: date

    def __post_init__(self) -> None:
        if isinstance(self.start, datetime) or isinstance(self.end, datetime):
            raise TypeError("a period is made of days, not of moments")
        if self.end <= self.start:
            raise ValueError(f"a period ends after it starts: {self.start} to {self.end}")

    @property
    def length(self) -> int:
        """How many days it holds, 1 or more."""
        return (self.end - self.start).days

    @property
    def last_day(self) -> date:
        """The last day that it holds, the one before `end`."""
        return self.end - ONE_DAY

    @property
    def days(self) -> Iterator[date]:
        """Each day that it holds, in order."""
        return map(date.fromordinal, range(self.start.toordinal(), self.end.toordinal()))

    def contains(self, day: date) -> bool:
        """Whether it holds that day."""
        return self.start <= day < self.end

    def overlaps(self, other: "Period") -> bool:
        """Whether some day is in both."""
        return self.start < other.end and other.start < self.end

    def touches(self, other: "Period") -> bool:
        """Whether one ends on the day the other starts: back in the morning, out the same day."""
        return self.end == other.start or other.end == self.start

    def fits_in(self, other: "Period") -> bool:
        """Whether each of its days is also in `other`."""
        return other.start <= self.start and self.end <= other.end

    def shifted(self, days: int) -> "Period":
        """The same length, that many days later (earlier when negative).

        Raises OverflowError when it would leave the calendar (years 1 to 9999).
        """
        by = timedelta(days=days)
        return Period(start=self.start + by, end=self.end + by)


def care_period(period: Period, care_days: int) -> Period | None:
    """The days after `period` kept for cleaning and drying the kit; None when there are none.

    `care_days` is 0 or more. Raises ValueError when it is negative, OverflowError past the year
    9999.
    """
    _check_not_negative(care_days=care_days)
    if care_days == 0:
        return None
    return Period(start=period.end, end=period.end + timedelta(days=care_days))


def held_days(period: Period, care_days: int) -> tuple[date, ...]:
    """Every day a machine is spoken for, in order: the period's own days, then its care days.

    Raises as `care_period` does.
    """
    care = care_period(period, care_days)
    return (*period.days, *(care.days if care else ()))


def nearest_free_spells(
    *,
    wanted: Period,
    taken: Collection[date],
    season: Period,
    not_before: date,
    care_days: int,
    count: int = 3,
) -> list[Period]:
    """The free spells as long as `wanted` that start nearest to it, earlier first at a tie.

    A spell lies wholly in `season` and starts on `not_before` or later. None of its own days nor
    of the `care_days` after it is in `taken`; the care days may run past the season's end. `taken`
    holds the taken days of every machine asked for, care days and closed days included. At most
    `count` spells, and none when nothing fits; they may overlap each other, and `wanted` itself
    comes first when it is free.

    Raises ValueError when `care_days` or `count` is negative.
    """
    _check_not_negative(care_days=care_days, count=count)
    wanted_start = wanted.start.toordinal()
    starts = _free_starts(length=wanted.length, taken=taken, season=season, not_before=not_before, care_days=care_days)
    starts.sort(key=lambda start: (abs(start - wanted_start), start))
    return [_spell(start, wanted.length) for start in starts[:count]]


def next_free_weekends(
    *, taken: Collection[date], season: Period, not_before: date, care_days: int, count: int
) -> list[Period]:
    """The next free weekends, soonest first: out on Saturday, back on Monday morning.

    The conditions are those of `nearest_free_spells`, and so is what it raises.
    """
    _check_not_negative(care_days=care_days, count=count)
    starts = _free_starts(length=WEEKEND_DAYS, taken=taken, season=season, not_before=not_before, care_days=care_days)
    weekends = [start for start in starts if date.fromordinal(start).weekday() == SATURDAY]
    return [_spell(start, WEEKEND_DAYS) for start in weekends[:count]]


def _free_starts(
    *, length: int, taken: Collection[date], season: Period, not_before: date, care_days: int
) -> list[int]:
    """Day numbers, in order, on which a free spell of `length` days can start.

    One pass from the season's end backwards, counting how many days in a row are free from each
    day on. Day numbers instead of dates: care days past the year 9999 cannot overflow, and small
    integers are fast.
    """
    first = max(season.start, not_before).toordinal()
    last = season.end.toordinal() - length
    needed = length + care_days
    taken_numbers = {day.toordinal() for day in taken}
    starts = []
    free_in_a_row = 0
    for day in range(last + needed - 1, first - 1, -1):
        free_in_a_row = 0 if day in taken_numbers else free_in_a_row + 1
        if free_in_a_row >= needed:
            starts.append(day)
    starts.reverse()
    return starts


def _spell(start: int, length: int) -> Period:
    return Period(start=date.fromordinal(start), end=date.fromordinal(start + length))


def _check_not_negative(**numbers: int) -> None:
    for name, number in numbers.items():
        if number < 0:
            raise ValueError(f"{name} is never negative: {number}")
