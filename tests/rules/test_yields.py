"""Yield that learns: conjugacy, and the Student t against scipy."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from kitshare.rules.water import OutOfRange
from kitshare.rules.yields import (
    MOST_YIELD,
    PUBLISHED,
    Belief,
    PressedDay,
    evidence,
    forecast,
    prior_from_range,
)

some_yields = st.lists(st.floats(0.2, 0.9), max_size=15)


def test_before_any_day_the_published_range_is_covered() -> None:
    low, high = PUBLISHED.interval()

    assert PUBLISHED.mean == 0.55
    assert high == pytest.approx(0.70)
    assert low == pytest.approx(0.40)
    assert PUBLISHED.days == 0


@given(some_yields, st.floats(0.05, 0.99))
@settings(deadline=None)
def test_the_interval_is_scipys_student_t(yields: list[float], probability: float) -> None:
    belief = PUBLISHED.learned(yields)

    expected = stats.t.interval(probability, belief.freedom, loc=belief.mean, scale=belief.spread)

    assert belief.interval(probability) == pytest.approx(expected, rel=1e-7)


@given(some_yields, some_yields)
@settings(deadline=None)
def test_days_may_be_learned_in_parts_and_in_any_order(first: list[float], second: list[float]) -> None:
    at_once = PUBLISHED.learned([*second, *first])
    in_parts = PUBLISHED.learned(first).learned(second)

    assert in_parts.days == at_once.days == len(first) + len(second)
    for name in ("mean", "weight", "shape", "scale"):
        assert getattr(in_parts, name) == pytest.approx(getattr(at_once, name), rel=1e-9)


def test_the_predictive_density_is_the_integral_over_mean_and_variance() -> None:
    belief = Belief(mean=0.55, weight=2, shape=2, scale=0.006).learned([0.6, 0.62, 0.5])
    at = 0.66

    def over_variance(variance: float) -> float:
        spread = (variance * (1 + 1 / belief.weight)) ** 0.5
        return float(
            stats.norm.pdf(at, belief.mean, spread) * stats.invgamma.pdf(variance, belief.shape, scale=belief.scale)
        )

    by_integral, _ = integrate.quad(over_variance, 0, 1, points=[0.002, 0.01], limit=400)

    assert by_integral == pytest.approx(stats.t.pdf(at, belief.freedom, belief.mean, belief.spread), rel=1e-6)


def test_with_many_days_the_prior_is_forgotten() -> None:
    days = [0.62, 0.66] * 200
    belief = PUBLISHED.learned(days)

    assert belief.mean == pytest.approx(0.64, abs=1e-3)
    assert belief.interval()[1] - belief.interval()[0] == pytest.approx(2 * 1.645 * 0.0212, abs=0.004)


def test_days_that_agree_narrow_the_range() -> None:
    def width(days: int) -> float:
        low, high = PUBLISHED.learned([0.6] * days).interval()
        return high - low

    assert width(0) > width(3) > width(9)


@given(st.floats(0.001, 20_000), some_yields)
@settings(deadline=None)
def test_a_forecast_stays_within_what_a_press_can_give(fruit_kg: float, yields: list[float]) -> None:
    found = forecast(fruit_kg, PUBLISHED.learned(yields))

    assert 0 < found.low <= found.expected <= found.high <= fruit_kg * MOST_YIELD * (1 + 1e-12)
    assert found.days == len(yields)


@given(st.floats(0.001, 10_000), st.floats(1, 2))
@settings(deadline=None)
def test_more_fruit_never_gives_less(fruit_kg: float, times: float) -> None:
    assert forecast(fruit_kg * times).high >= forecast(fruit_kg).high


def test_wide_disagreement_is_cut_to_the_possible() -> None:
    found = forecast(100, PUBLISHED.learned([0.1, 0.95]), probability=0.999)

    assert found.yield_low == 0.05
    assert found.yield_high == MOST_YIELD


DAYS = (
    PressedDay(litres_per_kg=0.60, machine="mill", fruit="mixed", village="Linnowby"),
    PressedDay(litres_per_kg=0.61, machine="mill", fruit="mixed", village="Linnowby"),
    PressedDay(litres_per_kg=0.62, machine="mill", fruit="mixed", village="Coldmallow"),
    PressedDay(litres_per_kg=0.40, machine="hand", fruit="mixed", village="Linnowby"),
)


@pytest.mark.parametrize(
    ("machine", "fruit", "village", "alike_by", "days"),
    [
        ("mill", "mixed", "Linnowby", ("machine", "fruit"), 3),
        ("mill", "sharp", "Linnowby", ("machine",), 3),
        ("hand", "mixed", "Linnowby", (), 4),
        ("", "", "", (), 4),
    ],
)
def test_the_nearest_days_that_are_enough_are_the_evidence(
    machine: str, fruit: str, village: str, alike_by: tuple[str, ...], days: int
) -> None:
    found = evidence(DAYS, machine=machine, fruit=fruit, village=village)

    assert found.alike_by == alike_by
    assert len(found.days) == days


def test_two_days_of_the_very_kind_are_enough_if_two_are_asked() -> None:
    found = evidence(DAYS, machine="mill", fruit="mixed", village="Linnowby", enough=2)

    assert found.alike_by == ("machine", "fruit", "village")
    assert [d.litres_per_kg for d in found.days] == [0.60, 0.61]


@pytest.mark.parametrize(
    "call",
    [
        lambda: PressedDay(litres_per_kg=0.96),
        lambda: PressedDay(litres_per_kg=float("nan")),
        lambda: prior_from_range(low=0.6, expected=0.55, high=0.7),
        lambda: prior_from_range(low=0.5, expected=0.55, high=0.5),
        lambda: Belief(mean=0.5, weight=0, shape=1, scale=1),
        lambda: forecast(0),
        lambda: forecast(500_000),
        lambda: PUBLISHED.interval(1),
    ],
)
def test_nonsense_is_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange):
        call()


@pytest.mark.parametrize(
    ("low", "expected", "high", "reach"),
    [(0.45, 0.55, 0.70, 0.15), (0.30, 0.55, 0.60, 0.25), (0.50, 0.50, 0.50, 0.001)],
)
@pytest.mark.parametrize("probability", [0.5, 0.9])
def test_a_published_range_becomes_a_belief_that_reaches_its_farther_end(
    low: float, expected: float, high: float, reach: float, probability: float
) -> None:
    """The interval by scipy's Student t of four degrees, and trusted in the mean like two days."""
    prior = prior_from_range(low=low, expected=expected, high=high, probability=probability)

    ends = stats.t.interval(probability, df=4, loc=expected, scale=prior.spread)
    assert ends == pytest.approx((expected - reach, expected + reach), rel=1e-6)
    assert (prior.mean, prior.weight, prior.freedom, prior.days) == (expected, 2, 4, 0)
    assert prior.spread**2 == pytest.approx(prior.scale / prior.shape * 3 / 2)


def test_what_is_believed_before_any_day_is_the_published_range() -> None:
    assert prior_from_range(low=0.45, expected=0.55, high=0.70) == PUBLISHED


def test_a_forecast_says_how_sure_it_is_and_in_yields_what_it_says_in_litres() -> None:
    found = forecast(200, PUBLISHED, 0.8)

    assert (found.probability, found.days) == (0.8, 0)
    assert (found.low, found.expected, found.high) == pytest.approx(
        (200 * found.yield_low, 200 * found.yield_expected, 200 * found.yield_high)
    )
    assert found.yield_expected == pytest.approx(0.55)


def test_days_of_the_same_village_come_before_those_of_the_press_alone() -> None:
    days = [PressedDay(litres_per_kg=0.5 + n / 100, machine="press", village="Linnowby") for n in range(3)]
    days.append(PressedDay(litres_per_kg=0.4, machine="press", village="Coldmallow"))

    assert evidence(days, machine="press", fruit="pears", village="Linnowby").days == tuple(days[:3])
    assert evidence(days, machine="press", fruit="pears", village="Fennerlow").alike_by == ("machine",)
