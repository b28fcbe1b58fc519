"""Student's t against scipy."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from kitshare.rules import student_t
from kitshare.rules.water import OutOfRange


@given(st.floats(0.0002, 0.9998), st.one_of(st.floats(0.5, 60), st.floats(60, 1e6)))
@settings(deadline=None)
def test_the_quantile_is_scipys(probability: float, freedom: float) -> None:
    expected = stats.t.ppf(probability, freedom)

    assert student_t.quantile(probability, freedom) == pytest.approx(expected, rel=1e-8, abs=1e-8)


@given(st.floats(0, 50), st.floats(0.5, 1000))
@settings(deadline=None)
def test_the_tail_is_scipys(t: float, freedom: float) -> None:
    assert student_t.upper_tail(t, freedom) == pytest.approx(stats.t.sf(t, freedom), rel=1e-8, abs=1e-15)


@given(st.floats(0.1, 80), st.floats(0.1, 80), st.floats(0, 1))
@settings(deadline=None)
def test_the_incomplete_beta_is_scipys(a: float, b: float, x: float) -> None:
    assert student_t.beta_share(a, b, x, 1 - x) == pytest.approx(special.betainc(a, b, x), rel=1e-8, abs=1e-12)


@given(st.floats(0.0001, 0.4999), st.floats(0.5, 500))
@settings(deadline=None)
def test_the_quantile_is_even(probability: float, freedom: float) -> None:
    mirrored = student_t.quantile(1 - probability, freedom)

    assert student_t.quantile(probability, freedom) == pytest.approx(-mirrored, rel=1e-9)


@pytest.mark.parametrize(("probability", "freedom"), [(0, 3), (1, 3), (0.5, 0.4), (0.5, 2e6), (float("nan"), 3)])
def test_what_has_no_quantile_is_refused(probability: float, freedom: float) -> None:
    with pytest.raises(OutOfRange):
        student_t.quantile(probability, freedom)


@pytest.mark.parametrize(("probability", "freedom", "t"), [(0.95, 4, 2.132), (0.975, 10, 2.228), (0.99, 30, 2.457)])
def test_both_tails_are_those_of_the_printed_table(probability: float, freedom: float, t: float) -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2."""
    assert student_t.quantile(probability, freedom) == pytest.approx(t, abs=5e-4)
    assert student_t.quantile(1 - probability, freedom) == pytest.approx(-t, abs=5e-4)
    assert student_t.quantile(0.5, freedom) == 0
