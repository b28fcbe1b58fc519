"""Outings that a part may last yet: against Weibull figures others published, scipy, and simulated lives."""

import random
from math import gamma

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kitshare.rules.wear import SHAPES, Life, remaining


def lives(*outings, still=()):
    return [Life(outings=n, ended=True) for n in outings] + [Life(outings=n, ended=False) for n in still]


def many(shape, scale, count=4000):
    """Lives as even as a Weibull distribution can be: its quantiles, rounded to whole outings."""
    quantiles = stats.weibull_min(shape, scale=scale).ppf([(n + 0.5) / count for n in range(count)])
    return lives(*(max(1, round(q)) for q in quantiles))


@pytest.mark.parametrize("few", [lives(), lives(10, 12), lives(10, 12, still=(5, 30, 40))])
def test_while_few_lives_have_ended_nothing_is_said(few):
    assert remaining(few, age=3) is None


def test_with_many_lives_the_range_is_that_of_the_weibull_distribution():
    """NIST/SEMATECH e-Handbook 8.1.6.2, F = 1 - exp(-(t / a)^g), by scipy's own Weibull."""
    shape, scale = SHAPES[12], 1000
    true = stats.weibull_min(shape, scale=scale)

    found = remaining(many(shape, scale), age=0)

    assert found.expected == pytest.approx(true.median(), rel=0.02)
    assert found.low == pytest.approx(true.ppf(0.05), rel=0.04)
    assert found.high == pytest.approx(true.ppf(0.95), rel=0.02)


def test_with_many_lives_the_share_that_fails_is_as_published():
    """The published worked example of a spreadsheet's WEIBULL function has F(105) = 0.929581 for shape 20, scale 100.

    Read backwards: of parts of that kind 7.04 in 100 last longer than 105, so half of those that reached it go at t
    with (t / 100)^20 = (105 / 100)^20 + ln 2.
    """
    found = remaining(many(20, 100_00), age=105_00, shapes=(20.0,))

    assert stats.weibull_min(20, scale=100).cdf(105) == pytest.approx(0.929581, abs=5e-7)
    assert 10_500 + found.expected == pytest.approx(10_000 * (1.05**20 + 0.6931472) ** (1 / 20), rel=0.001)


def test_the_mean_life_is_that_of_the_handbook():
    """The same section: mean life is a * Gamma(1 + 1/g). Averaged over the chances of the found distribution."""
    shape, scale = 2.0, 500

    found = remaining(many(shape, scale), age=0, shapes=(shape,))

    # The median is a * (ln 2)^(1/g); the ratio of mean to median then checks the scale.
    assert found.expected * gamma(1.5) / 0.6931472**0.5 == pytest.approx(scale * gamma(1 + 1 / shape), rel=0.01)


@pytest.mark.parametrize("age", [0, 7, 200])
def test_where_age_does_not_matter_the_answer_is_the_lomax_distribution(age):
    """Exponential lives under the prior 1/a: what is to come is Lomax with shape d and scale the total time (scipy)."""
    found = remaining(lives(12, 30, 7, 55, still=(20, 4)), age=age, shapes=(1.0,))
    lomax = stats.lomax(4, scale=128)

    assert [found.low, found.expected, found.high] == pytest.approx([lomax.ppf(p) for p in (0.05, 0.5, 0.95)])


def test_parts_that_wear_out_alike_have_little_left_when_they_are_old():
    alike = lives(28, 30, 31, 29, 33, 30, 32)

    young, old = remaining(alike, age=5), remaining(alike, age=28)

    assert young.low > old.low
    assert 20 < young.expected < 28
    assert old.high < young.expected


def test_a_part_still_in_use_counts_for_what_it_lasted():
    without, beside = remaining(lives(10, 20, 30), age=0), remaining(lives(10, 20, 30, still=(60, 60)), age=0)

    assert beside.expected > without.expected
    assert (beside.lives, beside.ended) == (5, 3)


def test_nine_in_ten_new_parts_last_within_the_range_however_few_lives_were_seen():
    """Six simulated lives each time, then a seventh: a range that leaves out what it does not know would miss more."""
    draw = random.Random(1909)
    inside = 0
    for _ in range(400):
        shape = draw.choice(SHAPES[8:])
        seen = lives(*(max(1, round(draw.weibullvariate(300, shape))) for _ in range(6)))
        found = remaining(seen, age=0)
        inside += found.low <= draw.weibullvariate(300, shape) <= found.high

    assert inside / 400 == pytest.approx(0.9, abs=0.05)


@given(ended=st.lists(st.integers(1, 200), min_size=3, max_size=12), age=st.integers(0, 300))
@settings(max_examples=60)
def test_a_range_is_in_order_and_scales_with_the_unit(ended, age):
    found = remaining(lives(*ended), age=age)
    doubled = remaining(lives(*(2 * n for n in ended)), age=2 * age)

    assert 0 < found.low < found.expected < found.high
    assert doubled.expected == pytest.approx(2 * found.expected, rel=1e-6)


@pytest.mark.parametrize(
    ("ended", "still"), [((12, 30, 7), (20,)), ((28, 30, 31, 29), ()), ((5, 6, 90, 200, 3), (150, 2))]
)
def test_shapes_are_weighed_by_how_well_they_explain_the_lives(ended, still):
    """The joint posterior of shape and scale, added up over a grid of scales with scipy's own Weibull distribution."""
    scale = np.exp(np.linspace(-6, 18, 401))  # even steps of its logarithm: the prior 1 / a
    chances = []
    for shape in SHAPES:
        weibull = stats.weibull_min(shape, scale=scale)
        seen = sum(weibull.logpdf(outings) for outings in ended) + sum(weibull.logsf(outings) for outings in still)
        chances.append((np.exp(seen), weibull))
    whole = sum(chance.sum() for chance, _ in chances)

    found = remaining(lives(*ended, still=still), age=0)

    for outings, lasting in [(found.low, 0.95), (found.expected, 0.5), (found.high, 0.05)]:
        assert sum((chance * weibull.sf(outings)).sum() for chance, weibull in chances) / whole == pytest.approx(
            lasting, rel=1e-4
        )
