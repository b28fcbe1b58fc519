"""What is published about juice, pomace and the room that containers need, beside the values that the rules stand on."""

from decimal import Decimal

import pytest
from iapws.iapws97 import IAPWS97

from kitshare.rules.sizing_terms import (
    FILL_FOR_FREEZING,
    FILL_FOR_HEATING,
    JUICE_KG_PER_LITRE,
    YIELD_EXPECTED,
    YIELD_HIGH,
    YIELD_LOW,
)
from kitshare.rules.supplies import pomace
from kitshare.rules.units import LITRES_PER_US_GALLON, FruitUnit, fruit_kg
from kitshare.rules.yields import forecast

D = Decimal


def bushel(pounds: int) -> Decimal:
    return fruit_kg(D(pounds), FruitUnit.LB, crate_kg=D(16), sack_kg=D(25))


ORCHARD_PROJECT = "community apple pressing guide, The Orchard Project"
GEORGIA = "Making Apple Cider, University of Georgia Cooperative Extension"
GROWERS = "growers' pages on rack-and-cloth days"
THREE_US_GALLONS = 3 * LITRES_PER_US_GALLON
PUBLISHED = [
    (D(10), D(5), ORCHARD_PROJECT),
    (D(16), D(8), ORCHARD_PROJECT),
    (D(24), D(12), ORCHARD_PROJECT),
    (D(3200), D(2000), GROWERS),
    (bushel(42), THREE_US_GALLONS, GEORGIA),
    (bushel(48), THREE_US_GALLONS, GEORGIA),
    (D(10), D(6), "common practice, no source"),
]


@pytest.mark.parametrize(("fruit", "litres", "source"), PUBLISHED)
def test_the_forecast_before_any_day_holds_what_is_published(fruit: Decimal, litres: Decimal, source: str) -> None:
    juice = forecast(float(fruit))

    assert juice.low <= float(litres) <= juice.high, source


def test_the_forecast_before_any_day_reaches_the_published_range() -> None:
    juice = forecast(1.0)

    assert juice.low <= float(YIELD_LOW)
    assert juice.expected == pytest.approx(float(YIELD_EXPECTED))
    assert juice.high == pytest.approx(float(YIELD_HIGH))


def water_kg_per_litre(celsius: float) -> float:
    """Density at one atmosphere by IAPWS-IF97."""
    state = IAPWS97(T=273.15 + celsius, P=0.101325)  # type: ignore[no-untyped-call]
    assert state.rho is not None
    return float(state.rho) / 1000


def test_juice_of_that_density_has_12_brix() -> None:
    # Fit of degrees Brix to specific gravity over the sucrose table of the National Bureau of Standards.
    gravity = float(JUICE_KG_PER_LITRE) / water_kg_per_litre(20)

    brix = 182.46007 * gravity**3 - 775.68212 * gravity**2 + 1262.7794 * gravity - 669.56218

    assert brix == pytest.approx(12, abs=0.02)


def test_the_mass_balance_of_the_literature_is_met() -> None:
    # Shalini and Gupta, J Food Sci Technol 47:365 (2010): 75 % juice, 25 % pomace by mass.
    litres = (75 / JUICE_KG_PER_LITRE).quantize(D("1e-6"))

    assert pomace(D(100), litres).kg == pytest.approx(D(25), abs=D("0.001"))


def test_pomace_at_good_yields_lies_where_the_literature_has_it() -> None:
    # The same paper: in use 20 to 35 % of the fruit is left. The high yield is that of a good press.
    assert 20 <= pomace(D(100), 100 * YIELD_HIGH).kg <= 35


def test_glass_and_ice_have_the_room_they_need() -> None:
    # Expansion of water by IAPWS-IF97, a little more than juice; ice 917 against 998 kg/m3.
    assert float(FILL_FOR_HEATING) * water_kg_per_litre(10) / water_kg_per_litre(75) < 1
    assert float(FILL_FOR_FREEZING) * 998 / 917 < 1
