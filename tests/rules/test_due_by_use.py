"""Services that go by use: what is left, whichever comes first, and forecasts checked by a simulated season."""

import random
from datetime import date, timedelta
from decimal import Decimal
from math import ceil, floor, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from kitshare.rules.due_by_use import (
    NINE_IN_TEN_Z,
    First,
    Forecast,
    Measure,
    Used,
    Watched,
    first_due,
    forecast,
    left,
)
from kitshare.rules.periods import Period

TODAY = date(2027, 9, 1)
LONG = [Period(start=date(2027, 1, 1), end=date(2060, 1, 1))]


def watched(*amounts, days=60, with_estimates=False):
    return Watched(
        season_days=days, amounts=tuple(Decimal(str(amount)) for amount in amounts), with_estimates=with_estimates
    )


@pytest.mark.parametrize(("used", "to_go"), [("1999.9", "0.1"), ("2000", "0"), ("2000.1", "0")])
def test_it_is_due_from_when_the_last_kilogram_is_milled(used, to_go):
    assert left(Decimal(2000), Used(amount=Decimal(used))) == Decimal(to_go)


def test_what_is_due_already_is_due_today():
    found = forecast(Decimal(0), watched(), seasons=[], today=TODAY)

    assert (found.early, found.about, found.late) == (TODAY, TODAY, TODAY)


def test_a_steady_mill_falls_due_about_when_the_division_says():
    """Ten outings of 400 kg in 60 days are 66.7 kg a day: 2,867 kg take 43 days, from 1 September to 14 October."""
    found = forecast(Decimal(2867), watched(*[400] * 10), seasons=LONG, today=TODAY)

    assert found.about == date(2027, 10, 14)
    assert found.early < date(2027, 9, 27) < found.about < date(2027, 11, 5) < found.late


def test_days_outside_seasons_do_not_count():
    seasons = [
        Period(start=date(2028, 8, 1), end=date(2028, 11, 1)),
        Period(start=date(2027, 8, 1), end=date(2027, 9, 11)),
    ]

    found = forecast(Decimal(2933), watched(*[400] * 10), seasons=seasons, today=TODAY)

    # 44 days: ten from 1 to 10 September, the other 34 from 1 August on.
    assert found.about == date(2028, 9, 4)


def test_past_the_seasons_that_are_known_no_day_is_named():
    seasons = [Period(start=date(2027, 8, 1), end=date(2027, 9, 30))]

    found = forecast(Decimal(2933), watched(*[400] * 10), seasons=seasons, today=TODAY)

    assert found.early is not None
    assert (found.about, found.late) == (None, None)


@pytest.mark.parametrize(
    "seen", [watched(), watched(400, 300, 500), watched(400, 300, 500, 0), watched(*[9] * 9, days=0)]
)
def test_where_few_outings_were_seen_nothing_is_forecast(seen):
    assert forecast(Decimal(100), seen, seasons=LONG, today=TODAY) is None


def test_what_rests_on_estimates_says_so():
    assert forecast(Decimal(100), watched(*[9] * 9, with_estimates=True), seasons=LONG, today=TODAY).estimated
    assert not forecast(Decimal(100), watched(*[9] * 9), seasons=LONG, today=TODAY).estimated


def test_the_reach_of_nine_in_ten_is_scipys():
    assert pytest.approx(stats.norm.ppf(0.95), abs=1e-7) == NINE_IN_TEN_Z


def outings(draw, days, until=None):
    """A season at random: an outing on about one day in six, of 100 to 900 kg. Stops when the sum is reached."""
    amounts, total = [], 0
    for day in range(days):
        if draw.random() < 1 / 6:
            amounts.append(draw.randint(100, 900))
            total += amounts[-1]
        if until is not None and total >= until:
            return day
    return amounts


def test_in_nine_of_ten_simulated_seasons_it_falls_due_within_the_range():
    """The days that were seen are drawn anew each time, so the range must hold that too."""
    draw = random.Random(1867)
    inside = counted = 0
    for _ in range(400):
        found = forecast(Decimal(4000), watched(*outings(draw, 90), days=90), seasons=LONG, today=TODAY)
        if found is not None and found.late is not None:
            fell_due = TODAY + timedelta(days=outings(draw, 3000, until=4000))
            counted += 1
            inside += found.early <= fell_due <= found.late

    assert counted > 380
    assert 0.86 <= inside / counted <= 0.95


@given(
    amounts=st.lists(st.integers(1, 900), min_size=4, max_size=12),
    to_go=st.integers(1, 5000),
    more=st.integers(0, 500),
)
@settings(max_examples=80)
def test_days_are_in_order_and_more_to_go_is_never_sooner(amounts, to_go, more):
    near, far = (forecast(Decimal(n), watched(*amounts), seasons=LONG, today=TODAY) for n in (to_go, to_go + more))
    never = date.max

    assert TODAY <= near.early <= (near.about or never) <= (near.late or never)
    assert near.early <= (far.early or never)
    assert (near.about or never) <= (far.about or never)


def by(day):
    return Forecast(early=day, about=day, late=day, estimated=False)


@pytest.mark.parametrize(
    ("kg", "outings_", "expected"),
    [
        (date(2027, 10, 14), date(2027, 10, 20), First(measure=Measure.KG, on=date(2027, 10, 14))),
        (date(2027, 10, 20), date(2027, 10, 14), First(measure=Measure.OUTINGS, on=date(2027, 10, 14))),
        (date(2027, 11, 1), None, First(measure=None, on=date(2027, 11, 1))),
        (date(2027, 10, 31), None, First(measure=Measure.KG, on=date(2027, 10, 31))),
        (None, None, First(measure=None, on=date(2027, 11, 1))),
    ],
)
def test_whichever_comes_first_is_named(kg, outings_, expected):
    by_use = {Measure.KG: by(kg), Measure.HOURS: None, Measure.OUTINGS: by(outings_)}

    assert first_due(date(2027, 11, 1), by_use) == expected


@pytest.mark.parametrize("amounts", [[400] * 10, [100, 900, 50, 300, 20], [1] * 20])
@pytest.mark.parametrize("to_go", [3, 500, 4000])
def test_a_range_ends_where_a_normal_sum_reaches_what_is_to_go(amounts, to_go):
    """The sum after t days: mean r t, variance v t + t^2 v / days; scipy's own distribution and root finder."""
    days = 60
    rate, variance = sum(amounts) / days, sum(amount**2 for amount in amounts) / days

    def reached(t, chance):
        return stats.norm.cdf(to_go, rate * t, sqrt(variance * t + t * t * variance / days)) - chance

    early = optimize.brentq(reached, 1e-9, 1e7, args=(0.95,))
    found = forecast(Decimal(to_go), watched(*amounts, days=days), seasons=LONG, today=TODAY)

    assert found.early == TODAY + timedelta(days=floor(early))
    if reached(1e9, 0.05) < 0 and (late := optimize.brentq(reached, 1e-9, 1e9, args=(0.05,))) < 10_000:
        assert found.late == TODAY + timedelta(days=ceil(late))


def test_a_machine_that_goes_out_every_third_day_is_due_again_by_some_day():
    found = forecast(Decimal(20), watched(*[1] * 20), seasons=LONG, today=TODAY)

    assert found.about == TODAY + timedelta(days=60)
    assert found.late is not None


def test_the_first_day_after_a_season_is_the_first_of_the_next():
    """44 days of season: 2,933 kg at 66.7 kg a day fall on day 44, which the first season no longer has."""
    seasons = [
        Period(start=date(2027, 3, 1), end=date(2027, 5, 1)),
        Period(start=date(2027, 8, 1), end=TODAY),
        Period(start=TODAY, end=TODAY + timedelta(days=44)),
        Period(start=date(2028, 8, 1), end=date(2028, 11, 1)),
    ]

    assert forecast(Decimal(2933), watched(*[400] * 10), seasons=seasons, today=TODAY).about == date(2028, 8, 1)


def test_one_day_of_a_season_and_four_outings_are_enough():
    assert forecast(Decimal(100), watched(*[9] * 4, days=1), seasons=LONG, today=TODAY) is not None


def test_what_is_due_already_says_whether_it_rests_on_estimates():
    for is_estimated in (False, True):
        seen = watched(*[9] * 9, with_estimates=is_estimated)
        assert forecast(Decimal(0), seen, seasons=LONG, today=TODAY).estimated is is_estimated
