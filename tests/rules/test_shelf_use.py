"""Which seasons a record covers: counted by hand on the calendar."""

from datetime import date

import pytest

from kitshare.rules.periods import Period
from kitshare.rules.shelf_use import Recorded, recorded_seasons, season_days

LAST_YEAR = Period(start=date(2026, 9, 1), end=date(2026, 12, 1))  # 91 days
THIS_YEAR = Period(start=date(2027, 9, 1), end=date(2027, 10, 1))  # 30 days


@pytest.mark.parametrize(
    ("since", "today", "seasons", "begins_on"),
    [
        (date(2026, 8, 1), date(2027, 8, 1), 1.0, date(2026, 9, 1)),
        (date(2026, 8, 1), date(2027, 9, 15), 1.5, date(2026, 9, 1)),
        (date(2026, 11, 24), date(2026, 12, 24), 7 / 91, date(2026, 9, 1)),
        (date(2026, 12, 1), date(2027, 9, 1), 1 / 30, date(2027, 9, 1)),
        (date(2026, 12, 1), date(2027, 8, 31), 0.0, None),
        (date(2028, 1, 1), date(2028, 1, 1), 0.0, None),
    ],
)
def test_a_record_covers_parts_of_seasons_and_counts_from_the_first_of_them(since, today, seasons, begins_on):
    found = recorded_seasons([THIS_YEAR, LAST_YEAR], since=since, today=today)

    assert found == Recorded(seasons=pytest.approx(seasons), begins_on=begins_on)


def test_only_the_newest_ten_seasons_count():
    seasons = [Period(start=date(year, 9, 1), end=date(year, 12, 1)) for year in range(2001, 2021)]

    found = recorded_seasons(seasons, since=date(2000, 1, 1), today=date(2021, 1, 1))

    assert found == Recorded(seasons=10.0, begins_on=date(2011, 9, 1))


def test_a_season_is_as_long_as_the_latest_within_bounds():
    assert season_days([]) == 90
    assert season_days([THIS_YEAR, LAST_YEAR]) == 30
    assert season_days([Period(start=date(2027, 9, 1), end=date(2027, 9, 3))]) == 7
    assert season_days([Period(start=date(2027, 1, 1), end=date(2029, 1, 1))]) == 366
