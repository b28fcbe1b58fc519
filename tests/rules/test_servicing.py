"""Falling due: month ends, leap days, and the calendar's end; against a calendar that others wrote."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kitshare.rules.servicing import MOST, Interval, Standing, Unit, is_overdue, months_later, next_due, standing

DAYS = st.dates(min_value=date(1900, 1, 1), max_value=date(2200, 12, 31))
INTERVALS = st.one_of(
    st.builds(Interval, st.integers(1, MOST[Unit.DAYS]), st.just(Unit.DAYS)),
    st.builds(Interval, st.integers(1, MOST[Unit.MONTHS]), st.just(Unit.MONTHS)),
)


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2027, 1, 31), 1, date(2027, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2027, 1, 31), 2, date(2027, 3, 31)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2028, 2, 29), 48, date(2032, 2, 29)),
        (date(2027, 12, 31), 1, date(2028, 1, 31)),
        (date(2027, 8, 31), 1, date(2027, 9, 30)),
        (date(2096, 2, 29), 48, date(2100, 2, 28)),  # no leap year: a full century
    ],
)
def test_a_month_after_a_month_end_is_the_last_day_that_the_month_has(day, months, expected):
    assert months_later(day, months) == expected


@given(day=DAYS, months=st.integers(0, 240))
@example(day=date(2027, 1, 31), months=1)
@settings(max_examples=200)
def test_months_agree_with_the_relativedelta_of_python_dateutil(day, months):
    """An independent calendar: python-dateutil, documented to clip to the month's last day."""
    assert months_later(day, months) == day + relativedelta(months=months)


@given(day=DAYS, interval=INTERVALS)
@settings(max_examples=200)
def test_what_was_done_is_due_again_later_and_never_overdue_on_that_day(day, interval):
    due = next_due(day, interval)

    assert due > day
    assert not is_overdue(due, on=due)
    assert is_overdue(due, on=due + timedelta(days=1))


@given(first=DAYS, second=DAYS, interval=INTERVALS)
@settings(max_examples=200)
def test_what_was_done_later_is_not_due_sooner(first, second, interval):
    early, late = sorted([first, second])

    assert next_due(early, interval) <= next_due(late, interval)


@pytest.mark.parametrize(
    ("days", "expected"),
    [(-1, Standing.OVERDUE), (0, Standing.SOON), (14, Standing.SOON), (15, Standing.LATER)],
)
def test_it_stands_soon_from_fourteen_days_before_and_overdue_from_the_day_after(days, expected):
    today = date(2027, 9, 1)

    assert standing(today + timedelta(days=days), on=today) == expected


@pytest.mark.parametrize(
    ("every", "unit"), [(0, Unit.DAYS), (-1, Unit.MONTHS), (MOST[Unit.DAYS] + 1, Unit.DAYS), (121, Unit.MONTHS)]
)
def test_an_interval_is_a_day_to_ten_years(every, unit):
    with pytest.raises(ValueError, match="An interval is"):
        Interval(every, unit)


@pytest.mark.parametrize("interval", [Interval(1, Unit.DAYS), Interval(1, Unit.MONTHS)])
def test_past_the_end_of_the_calendar_is_refused(interval):
    with pytest.raises(ValueError, match="ends with the year 9999"):
        next_due(date(9999, 12, 31), interval)


def test_months_do_not_run_backwards():
    with pytest.raises(ValueError, match="Months later"):
        months_later(date(2027, 9, 1), -1)


def test_days_are_counted_as_days_and_months_as_months():
    assert next_due(date(2027, 3, 1), Interval(10, Unit.DAYS)) == date(2027, 3, 11)
    assert next_due(date(2027, 3, 1), Interval(10, Unit.MONTHS)) == date(2028, 1, 1)


def test_the_last_year_of_the_calendar_is_reached():
    assert months_later(date(9999, 11, 30), 1) == date(9999, 12, 30)
