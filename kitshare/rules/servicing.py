"""When a service or a safety test that recurs falls due: plain arithmetic on the calendar.

How often something is due is a policy that people type; nothing here says how often it should be.
"""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

LONGEST_YEARS: Final = 10
# Whoever does it is told so many days before: time to find a competent person and a free day of the machine.
NOTICE: Final = timedelta(days=14)
# Days that people may type: outside them it is a slip, and within them no interval leads past the calendar's end.
FIRST_DAY: Final = date(2000, 1, 1)
LAST_DAY: Final = date(2100, 12, 31)


class Unit(StrEnum):
    DAYS = "days"
    MONTHS = "months"


# The most of each unit that an interval may have: ten years, either way.
MOST: Final = {Unit.DAYS: 366 * LONGEST_YEARS, Unit.MONTHS: 12 * LONGEST_YEARS}


@dataclass(frozen=True, slots=True)
class Interval:
    """Every so many days or months: at least one, at most ten years. Raises ValueError for anything else."""

    every: int
    unit: Unit

    def __post_init__(self) -> None:
        if not 1 <= self.every <= MOST[self.unit]:
            raise ValueError(f"An interval is 1 to {MOST[self.unit]} {self.unit.value}, not {self.every}.")


class Standing(StrEnum):
    """How near the day is on which something is due."""

    LATER = "later"
    SOON = "soon"
    OVERDUE = "overdue"


def months_later(day: date, months: int) -> date:
    """Return the same day of the month, some months (at least 0) later; in a shorter month, that month's last day.

    So a month after 31 January is 28 or 29 February. Raises ValueError past the year 9999.
    """
    if months < 0:
        raise ValueError(f"Months later are not {months}.")
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    if year > date.max.year:
        raise ValueError("The calendar ends with the year 9999.")
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def next_due(last_done: date, interval: Interval) -> date:
    """Return the day on which it is due again. Always later than the day on which it was done.

    It is counted from the day on which it was done, not from the day on which it had been due: what was done late is
    good for a whole interval. Raises ValueError past the year 9999.
    """
    if interval.unit == Unit.MONTHS:
        return months_later(last_done, interval.every)
    try:
        return last_done + timedelta(days=interval.every)
    except OverflowError as past_the_end:
        raise ValueError("The calendar ends with the year 9999.") from past_the_end


def is_overdue(due_on: date, *, on: date) -> bool:
    """Whether it is overdue on a day. On the day itself it is due, and overdue from the day after."""
    return due_on < on


def standing(due_on: date, *, on: date) -> Standing:
    """How something stands on a day: overdue, due within the notice, or later."""
    if is_overdue(due_on, on=on):
        return Standing.OVERDUE
    return Standing.SOON if due_on - on <= NOTICE else Standing.LATER
