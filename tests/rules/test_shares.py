from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.shares import whole_percents


@pytest.mark.parametrize(
    ("weights", "percents"),
    [
        ((1,), (100,)),
        ((1, 1, 1), (34, 33, 33)),
        ((50, 0, 20, 20, 10), (50, 0, 20, 20, 10)),
        # Textbook example of the largest-remainder method with a hundred seats, votes in thousands; the
        # numbers are from memory: 47, 16, 15.8, 12, 6.1 and 3.1 of a hundred give 47, 16, 16, 12, 6 and 3.
        ((47_000, 16_000, 15_800, 12_000, 6_100, 3_100), (47, 16, 16, 12, 6, 3)),
    ],
)
def test_weights_become_whole_parts_in_a_hundred(weights, percents):
    assert whole_percents(weights) == percents


@given(st.lists(st.integers(0, 1000), min_size=1, max_size=30).filter(any))
def test_they_come_to_a_hundred_and_each_is_within_one_of_its_exact_part(weights):
    percents = whole_percents(weights)

    assert sum(percents) == 100
    for weight, percent in zip(weights, percents, strict=True):
        assert abs(percent - Fraction(100 * weight, sum(weights))) < 1


@pytest.mark.parametrize("weights", [(), (0, 0), (3, -1)])
def test_without_a_weight_there_is_nothing_to_share(weights):
    with pytest.raises(ValueError, match="no shares"):
        whole_percents(weights)
