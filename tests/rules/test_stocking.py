"""Spares to keep: against a published Poisson table, scipy's negative binomial, and what must be true of any answer."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kitshare.rules.stocking import MOST_USED, PRIOR, Belief, horizon_seasons, keep


def known(mean):
    """A rate about which nothing is left to learn: the count to come is Poisson."""
    return Belief(shape=mean * 1e9, seasons=1e9)


@pytest.mark.parametrize(("mean", "count"), [(0.5, 2), (1, 3), (2, 5), (3, 6), (5, 9)])
def test_a_rate_that_is_known_gives_the_count_of_the_poisson_table(mean, count):
    """Cumulative Poisson table, 95 in 100; for a mean of 2, four give 0.9473 and just fail."""
    assert keep(known(mean), chance=0.05).count == count


def test_four_for_a_mean_of_two_just_fail():
    """The same table: P(X <= 4) is 0.9473."""
    assert keep(known(2), chance=0.0528).count == 4
    assert keep(known(2), chance=0.0528).chance_of_more == pytest.approx(1 - 0.9473, abs=5e-5)
    assert keep(known(2), chance=0.0526).count == 5


@given(
    shape=st.floats(0.05, 200),
    seasons=st.floats(0.1, 30),
    horizon=st.floats(0.1, 4),
    chance=st.floats(0.001, 0.5),
)
@settings(max_examples=100)
def test_the_count_is_the_quantile_of_scipys_negative_binomial(shape, seasons, horizon, chance):
    found = keep(Belief(shape=shape, seasons=seasons), horizon=horizon, chance=chance)
    count = stats.nbinom(shape, seasons / (seasons + horizon))

    assert found.chance_of_more == pytest.approx(count.sf(found.count), abs=1e-9)
    assert count.sf(found.count) <= chance + 1e-9
    assert found.count == 0 or count.sf(found.count - 1) > chance - 1e-9
    assert found.expected == pytest.approx(count.mean())


def test_keep_five_one_season_in_twenty_would_need_more():
    """Two seasons in which four were used up; scipy: nbinom(4.5, 2.5 / 3.5).sf(5) is 0.0252, sf(4) is 0.0503."""
    found = keep(PRIOR.learned(used=4, seasons=2))

    assert (found.count, found.one_season_in) == (5, int(1 / stats.nbinom(4.5, 2.5 / 3.5).sf(5)))
    assert stats.nbinom(4.5, 2.5 / 3.5).sf(4) > 0.05


@given(
    used=st.integers(0, 60),
    more=st.integers(0, 20),
    horizon=st.floats(1, 2),
    longer=st.floats(0, 1),
    chance=st.floats(0.01, 0.4),
)
@settings(max_examples=100)
def test_more_used_a_longer_wait_and_more_caution_never_keep_fewer(used, more, horizon, longer, chance):
    belief = PRIOR.learned(used=used, seasons=3)
    count = keep(belief, horizon=horizon, chance=chance).count

    assert keep(PRIOR.learned(used=used + more, seasons=3), horizon=horizon, chance=chance).count >= count
    assert keep(belief, horizon=horizon + longer, chance=chance).count >= count
    assert keep(belief, horizon=horizon, chance=chance / 2).count >= count


def test_a_record_may_be_taken_in_parts():
    whole = PRIOR.learned(used=7, seasons=3)
    parts = PRIOR.learned(used=5, seasons=2).learned(used=2, seasons=1)

    assert (whole.shape, whole.seasons) == (parts.shape, parts.seasons)


def test_what_is_used_by_the_thousand_is_answered_too():
    found = keep(PRIOR.learned(used=MOST_USED, seasons=1))

    assert found.count == stats.nbinom(MOST_USED + 0.5, 1.5 / 2.5).ppf(0.95)


def test_a_shelf_lasts_a_season_and_the_wait_for_a_delivery():
    assert horizon_seasons(lead_days=0, season_days=90) == 1
    assert horizon_seasons(lead_days=45, season_days=90) == 1.5
