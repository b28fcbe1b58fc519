"""How many re-used bottles to bring over those that are filled."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from kitshare.rules.breakage import PRIOR_BOTTLES, Breakage
from kitshare.rules.sizing_terms import BREAKAGE_ALLOWANCE, OutOfRange

usual_shares = st.decimals("0.01", "0.5", places=3)
counted = st.integers(0, 3000).flatmap(lambda brought: st.tuples(st.just(brought), st.integers(0, brought)))


def test_before_anything_is_counted_the_usual_figure_stands_to_the_last_digit() -> None:
    assert Breakage().over == BREAKAGE_ALLOWANCE == Decimal("0.05")
    assert [Breakage(usual=usual).over for usual in map(Decimal, ("0", "0.02", "0.333", "0.5"))] == [
        Decimal(text) for text in ("0", "0.02", "0.333", "0.5")
    ]


def test_a_count_by_hand() -> None:
    """Half a bottle over each: 200 of 600 broken. With 300 more, 60 of them broken: 260 of 900, 260 over 640."""
    found = Breakage(usual=Decimal("0.5")).seen(brought=300, broken=60)

    assert found.prior == (200, 400)
    assert found.share == Decimal(260) / 900
    assert found.over == Decimal("0.4063")  # 0.40625, halves up


@given(usual_shares, counted)
def test_the_posterior_is_the_beta_distribution_of_scipy(usual: Decimal, count: tuple[int, int]) -> None:
    """scipy.stats.beta: the mean of a beta distribution with the counts added to its parameters."""
    brought, broken = count
    found = Breakage(usual=usual, brought=brought, broken=broken)
    a, b = (float(bottles) for bottles in found.prior)

    assert a + b == pytest.approx(float(PRIOR_BOTTLES))
    assert a / b == pytest.approx(float(usual))
    assert float(found.share) == pytest.approx(stats.beta(a + broken, b + brought - broken).mean())


def test_the_posterior_is_what_the_prior_and_the_counts_say_by_integration() -> None:
    """Bayes' theorem by scipy's quadrature: the mean over the binomial likelihood of 11 in 640 times the prior."""
    found = Breakage(brought=640, broken=11)
    a, b = (float(bottles) for bottles in found.prior)

    def weight(share: float) -> float:
        return float(stats.binom.pmf(11, 640, share) * stats.beta.pdf(share, a, b))

    total = integrate.quad(weight, 0, 0.3, points=[0.03])[0]
    mean = integrate.quad(lambda share: share * weight(share), 0, 0.3, points=[0.03])[0] / total

    assert float(found.share) == pytest.approx(mean, rel=1e-6)


@given(usual_shares, counted)
def test_more_broken_never_makes_the_allowance_smaller_and_more_whole_never_larger(
    usual: Decimal, count: tuple[int, int]
) -> None:
    brought, broken = count
    found = Breakage(usual=usual, brought=brought, broken=broken)

    assert Breakage(usual=usual, brought=brought + 1, broken=broken + 1).over >= found.over
    assert Breakage(usual=usual, brought=brought + 1, broken=broken).over <= found.over
    if broken < brought:
        assert Breakage(usual=usual, brought=brought, broken=broken + 1).over >= found.over


@given(usual_shares, st.lists(counted, max_size=6))
def test_days_add_up_whatever_their_order(usual: Decimal, days: list[tuple[int, int]]) -> None:
    def after(order: list[tuple[int, int]]) -> Breakage:
        found = Breakage(usual=usual)
        for brought, broken in order:
            found = found.seen(brought=brought, broken=broken)
        return found

    assert after(days) == after(days[::-1])
    assert (after(days).days, after(days).brought) == (len(days), sum(brought for brought, _ in days))


def test_never_more_than_as_many_again() -> None:
    """Of 600 and 600, 600 broken is just a half (with none believed broken before)."""
    none = Decimal(0)

    assert Breakage(usual=none, brought=600, broken=600).over == 1
    assert Breakage(usual=none, brought=600, broken=599).over == Decimal("0.9967")  # 599 over 601
    assert Breakage(usual=none, brought=6000, broken=6000).over == 1


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"usual": Decimal("-0.001")}, "usual"),
        ({"usual": Decimal("0.501")}, "usual"),
        ({"usual": Decimal("NaN")}, "usual"),
        ({"brought": 5, "broken": 6}, "broken"),
        ({"brought": 5, "broken": -1}, "broken"),
    ],
)
def test_what_cannot_be_is_refused(facts: dict[str, Decimal], field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        Breakage(**facts)  # type: ignore[arg-type]

    assert refused.value.field == field
    assert str(refused.value.value) == str(facts[field])
    assert (refused.value.least, refused.value.most) == (0, Decimal("0.5") if field == "usual" else 5)
