"""What was seen of a machine's use: sums, estimates and the days over which outings were seen."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.due_by_use import Measure, Used
from kitshare.rules.periods import Period
from kitshare.rules.use_seen import LOOKS_BACK, UseDay, used, watched

START = date(2027, 9, 1)
SEASON = Period(start=date(2027, 8, 20), end=date(2027, 12, 1))


def seen(outing, offset, kg=0, hours="0", *, estimated=False):
    return UseDay(
        outing=outing,
        day=START + timedelta(days=offset),
        kg=Decimal(kg),
        hours=Decimal(hours),
        estimated=estimated,
    )


def test_use_counts_from_the_day_after_and_says_what_of_it_is_estimated():
    days = [seen(1, 0, 500), seen(2, 1, 300, estimated=True), seen(2, 2, 200), seen(3, 9, 100)]

    assert used(days, Measure.KG, since=START) == Used(amount=Decimal(600), estimated=Decimal(300))
    assert used(days, Measure.KG, since=None).amount == 1100
    assert used(days, Measure.OUTINGS, since=START) == Used(amount=Decimal(2))


def test_hours_that_nobody_said_are_the_mean_of_those_said_and_none_where_nobody_ever_did():
    days = [seen(1, 0, hours="4"), seen(2, 1, hours="7"), seen(3, 2)]

    assert used(days, Measure.HOURS, since=None) == Used(amount=Decimal("16.5"), estimated=Decimal("5.5"))
    assert used([seen(1, 0), seen(2, 1)], Measure.HOURS, since=None) == Used(amount=Decimal(0))


def test_outings_are_seen_from_the_first_day_of_their_season_and_over_season_days_alone():
    days = [seen(1, 0, 500), seen(1, 1, 100), seen(2, 20, 300, estimated=True)]

    found = watched(days, Measure.KG, seasons=[SEASON], today=START + timedelta(days=30))

    assert (found.season_days, found.amounts, found.with_estimates) == (42, (Decimal(600), Decimal(300)), True)
    assert watched(days, Measure.OUTINGS, seasons=[SEASON], today=START + timedelta(days=300)).season_days == 103
    assert watched([], Measure.KG, seasons=[SEASON], today=START).amounts == ()


@given(
    st.lists(st.tuples(st.integers(1, 5), st.integers(0, 2000), st.integers(0, 900), st.booleans()), max_size=20),
    st.integers(0, 2000),
)
def test_what_was_done_before_and_after_any_day_is_all_that_was_done(rows, cut):
    days = [seen(outing, offset, kg, estimated=estimated) for outing, offset, kg, estimated in rows]
    since = START + timedelta(days=cut)

    after, ever = used(days, Measure.KG, since=since), used(days, Measure.KG, since=None)

    assert after.amount + sum(one.kg for one in days if one.day <= since) == ever.amount
    assert 0 <= after.estimated <= after.amount
    assert len(watched(days, Measure.KG, seasons=[SEASON], today=since).amounts) <= 5


@pytest.mark.parametrize(
    ("days_ago", "is_seen"), [(0, True), (LOOKS_BACK.days, True), (LOOKS_BACK.days + 1, False), (-1, False)]
)
def test_a_forecast_goes_by_three_years_and_by_nothing_to_come(days_ago, is_seen):
    found = watched([seen(1, -days_ago, 500)], Measure.KG, seasons=[SEASON], today=START)

    assert found.amounts == ((Decimal(500),) if is_seen else ())


def test_where_nothing_was_seen_no_day_of_a_season_counts():
    assert watched([], Measure.KG, seasons=[SEASON], today=START + timedelta(days=30)).season_days == 0


def test_a_season_that_is_over_before_the_first_outing_or_begins_later_counts_no_day():
    before = Period(start=date(2026, 8, 20), end=date(2026, 12, 1))
    after = Period(start=date(2028, 8, 20), end=date(2028, 12, 1))

    found = watched([seen(1, 0, 500)], Measure.KG, seasons=[before, SEASON, after], today=START + timedelta(days=30))

    assert found.season_days == 42


@pytest.mark.parametrize(
    ("days", "with_estimates"),
    [
        ([seen(1, 0, 500)], False),
        ([seen(1, 0, 500, estimated=True), seen(2, 1, 500)], True),
        ([seen(1, 0, 0, estimated=True), seen(2, 1, 500)], False),  # nothing was estimated to be nothing
        ([seen(1, 0, 1, estimated=True)], True),
    ],
)
def test_it_is_said_whether_anything_of_it_is_estimated(days, with_estimates):
    assert watched(days, Measure.KG, seasons=[SEASON], today=START + timedelta(days=9)).with_estimates is with_estimates


def test_an_outing_of_two_days_is_one_outing_and_never_an_estimate():
    days = [seen(1, 0, 500, estimated=True), seen(1, 1), seen(2, 2, 300, estimated=True)]

    found = watched(days, Measure.OUTINGS, seasons=[SEASON], today=START + timedelta(days=9))

    assert (found.amounts, found.with_estimates) == ((Decimal(1), Decimal(1)), False)


def test_half_an_hour_that_somebody_said_is_no_estimate():
    days = [seen(1, 0, hours="0.5"), seen(2, 1, hours="1")]

    assert used(days, Measure.HOURS, since=None) == Used(amount=Decimal("1.5"), estimated=Decimal(0))
    days = [seen(1, 0, hours="0.5"), seen(2, 1)]
    assert used(days, Measure.HOURS, since=None) == Used(amount=Decimal("1.0"), estimated=Decimal("0.5"))
