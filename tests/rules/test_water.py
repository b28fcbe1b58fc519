"""Water and juice against an independent implementation of IAPWS-IF97, and against each other."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97
from iapws.iapws97 import _TSat_P

from kitshare.rules import water


@pytest.mark.parametrize("celsius", [0, 3.9, 5, 10, 17.3, 20, 42, 60, 70, 72.5, 75, 80, 94.9, 95])
def test_water_follows_the_industrial_formulation(celsius: float) -> None:
    state = IAPWS97(T=celsius + 273.15, P=0.101325)

    assert water.water_density(celsius) == pytest.approx(state.rho / 1000, abs=4e-5)
    assert water.water_heat_capacity(celsius) == pytest.approx(state.cp, abs=2e-3)


@pytest.mark.parametrize("pressure_hpa", [500, 701.1, 843, 970, 1013.25, 1040, 1100])
def test_boiling_point_follows_the_industrial_formulation(pressure_hpa: float) -> None:
    assert water.boiling_point(pressure_hpa) == pytest.approx(_TSat_P(pressure_hpa / 10_000) - 273.15, abs=1e-6)


@given(st.floats(0, 40))
@settings(deadline=None)
def test_brix_and_gravity_undo_each_other(brix: float) -> None:
    assert water.brix_from_gravity(water.gravity_from_brix(brix)) == pytest.approx(brix, abs=1e-3)


@given(st.floats(0, 95), st.floats(0, 30))
@settings(deadline=None)
def test_juice_is_heavier_than_water_and_holds_less_heat(celsius: float, brix: float) -> None:
    assert water.juice_density(celsius, brix) >= water.water_density(celsius) - 1e-4
    assert water.juice_heat_capacity(celsius, brix) <= 4.25


@given(st.floats(5, 94), st.floats(0, 30))
@settings(deadline=None)
def test_warm_juice_takes_more_room(celsius: float, brix: float) -> None:
    assert water.juice_growth(celsius, celsius + 1, brix) > -1e-6


def test_a_choice_of_water_density_would_hide_a_fifth_of_the_growth() -> None:
    choi_okos = (997.18 + 3.1439e-3 * 10 - 3.7574e-3 * 100) / (997.18 + 3.1439e-3 * 75 - 3.7574e-3 * 5625) - 1

    assert water.juice_growth(10, 75, 0) > 1.2 * choi_okos


def test_juice_of_no_sugar_freezes_like_water() -> None:
    assert water.freezing_growth() == pytest.approx(998.21 / 917 - 1, abs=1e-4)
    assert 0.08 < water.freezing_growth(12) < water.freezing_growth()


@pytest.mark.parametrize(
    ("call", "value"),
    [
        (water.water_density, -0.1),
        (water.water_density, 95.1),
        (water.water_heat_capacity, float("nan")),
        (water.brix_from_gravity, 0.99),
        (water.gravity_from_brix, 41),
        (water.juice_heat_capacity, 96),
        (water.siebel_heat_capacity, 1.1),
        (water.freezing_growth, -1),
        (water.air_pressure, 5001),
        (water.boiling_point, 499),
    ],
)
def test_values_beyond_a_formula_are_refused_with_the_range(call, value) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(water.OutOfRange) as refused:
        call(value)

    assert not refused.value.low <= value <= refused.value.high
    assert "outside" in str(refused.value)


def test_sweet_juice_grows_as_its_water_and_its_sugar_together() -> None:
    """Densities in kg/L: water at 10 and 75 C by IAPWS-IF97, carbohydrate 1.5991 - 0.00031046 T by Choi and Okos (1986)."""
    cold = 0.7 / 0.999702 + 0.3 / (1.5991 - 0.00031046 * 10)
    hot = 0.7 / 0.974857 + 0.3 / (1.5991 - 0.00031046 * 75)

    assert water.juice_growth(10, 75, 30) == pytest.approx(hot / cold - 1, abs=1e-7)


def test_only_the_water_in_juice_grows_when_it_freezes() -> None:
    share_of_water = 0.88 * water.gravity_from_brix(12)

    assert water.freezing_growth(12) == pytest.approx(share_of_water * (0.998206 / 0.917 - 1), abs=1e-7)
