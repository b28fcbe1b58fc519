"""What was seen of a machine's use: sums, estimates and the days over which outings were seen."""

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.due_by_use import Measure, Used
from kitshare.rules.periods import Period
from kitshare.rules.use_seen import UseDay, used, watched

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
