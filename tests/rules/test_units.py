"""Factors are checked against pint's own tables, and against tables printed elsewhere."""

from decimal import Decimal
from itertools import product

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.units import (
    KG_PER,
    LITRES_PER,
    LITRES_PER_US_GALLON,
    Amount,
    AmountRefused,
    FruitUnit,
    Unit,
    UnitsDiffer,
    UnitSystem,
    WeightUnknown,
    convert,
    for_display,
    fruit_kg,
    in_system,
    to_celsius,
    to_fahrenheit,
)

PINT_NAME = {
    Unit.KG: "kilogram",
    Unit.LB: "pound",
    Unit.LITRE: "liter",
    Unit.IMPERIAL_GALLON: "imperial_gallon",
    Unit.US_GALLON: "US_liquid_gallon",
}
SAME_KIND = [*product(KG_PER, KG_PER), *product(LITRES_PER, LITRES_PER)]
SIXTEEN, TWENTY = Decimal(16), Decimal(20)

amounts = st.decimals(0, 1_000_000, places=3)
unhurried = settings(deadline=None)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


@pytest.mark.parametrize(("start", "to"), SAME_KIND)
def test_conversions_agree_with_pint(start: Unit, to: Unit, registry: pint.UnitRegistry[float]) -> None:
    converted = convert(Amount(value=Decimal("137.5"), unit=start), to)

    expected = registry.Quantity(137.5, PINT_NAME[start]).to(PINT_NAME[to]).magnitude
    assert converted.unit == to
    assert float(converted.value) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("celsius", [-273.15, -40.0, 0.0, 37.0, 71.1, 75.0, 100.0])
def test_temperatures_agree_with_pint(celsius: float, registry: pint.UnitRegistry[float]) -> None:
    expected = registry.Quantity(celsius, "degC").to("degF").magnitude

    assert to_fahrenheit(celsius) == pytest.approx(expected, abs=1e-9)
    assert to_celsius(to_fahrenheit(celsius)) == pytest.approx(celsius, abs=1e-9)


def test_a_us_gallon_is_231_cubic_inches() -> None:
    # From memory: NIST Handbook 44, appendix C. An inch is 2.54 cm, a litre 1000 cubic cm.
    assert 231 * Decimal("2.54") ** 3 / 1000 == LITRES_PER_US_GALLON


def test_the_juice_guidance_prints_one_temperature_in_both_scales() -> None:
    # FDA, Juice hazards and controls guidance (as quoted elsewhere): 160 F, that is 71.1 C.
    assert to_celsius(160) == pytest.approx(71.1, abs=0.05)


@pytest.mark.parametrize("temperature", [-460.0, float("nan"), float("inf"), float("-inf")])
def test_impossible_temperatures_are_refused(temperature: float) -> None:
    with pytest.raises(ValueError, match="no such temperature"):
        to_celsius(temperature)
    with pytest.raises(ValueError, match="no such temperature"):
        to_fahrenheit(temperature)


@pytest.mark.parametrize("start", KG_PER)
@pytest.mark.parametrize("to", LITRES_PER)
def test_a_mass_is_never_read_as_a_volume(start: Unit, to: Unit) -> None:
    with pytest.raises(UnitsDiffer):
        convert(Amount(value=Decimal(1), unit=start), to)
    with pytest.raises(UnitsDiffer):
        convert(Amount(value=Decimal(1), unit=to), start)


@unhurried
@given(amounts, st.sampled_from(SAME_KIND))
def test_a_conversion_can_be_undone(value: Decimal, units: tuple[Unit, Unit]) -> None:
    start, to = units
    there = convert(Amount(value=value, unit=start), to)

    back = convert(there, start)

    assert back.value == pytest.approx(value, rel=Decimal("1e-24"))


@pytest.mark.parametrize(
    ("system", "mass", "volume"),
    [
        (UnitSystem.METRIC, ("10", Unit.KG), ("100", Unit.LITRE)),
        (UnitSystem.IMPERIAL, ("22", Unit.LB), ("22", Unit.IMPERIAL_GALLON)),
        (UnitSystem.US, ("22", Unit.LB), ("26.4", Unit.US_GALLON)),
    ],
)
def test_each_system_reads_its_own_units(system: UnitSystem, mass: tuple[str, Unit], volume: tuple[str, Unit]) -> None:
    # From memory: 1 kg is 2.204 623 lb, 1 L is 0.264 172 US gal.
    # 100 L is 21.997 imperial gallons by 4.54609.
    ten_kg = in_system(system=system, kg=Decimal(10))
    hundred_litres = in_system(system=system, litres=Decimal(100))

    assert (str(ten_kg.value), ten_kg.unit) == mass
    assert (str(hundred_litres.value), hundred_litres.unit) == volume


def test_a_display_wants_one_mass_or_one_volume() -> None:
    with pytest.raises(TypeError):
        in_system(system=UnitSystem.METRIC)  # type: ignore[call-overload]
    with pytest.raises(TypeError):
        in_system(system=UnitSystem.METRIC, kg=Decimal(1), litres=Decimal(1))  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("0", "0"),
        ("0.004", "0"),
        ("0.005", "0.01"),
        ("1.005", "1.01"),
        ("9.996", "10"),
        ("10.04", "10"),
        ("10.05", "10.1"),
        ("60.0", "60"),
        ("99.95", "100"),
        ("100.5", "101"),
        ("600.00", "600"),
        ("1875.4", "1875"),
        ("1E+3", "1000"),
        ("-10.05", "-10.1"),
    ],
)
def test_what_is_shown_is_rounded_to_what_is_worth_reading(value: str, shown: str) -> None:
    assert str(for_display(Decimal(value))) == shown


@unhurried
@given(amounts, amounts)
def test_rounding_keeps_order_and_stays_within_half_a_percent(one: Decimal, other: Decimal) -> None:
    smaller, larger = sorted((one, other))

    assert for_display(smaller) <= for_display(larger)
    assert abs(for_display(one) - one) <= max(Decimal("0.005"), one / 200)


@pytest.mark.parametrize(
    ("amount", "unit", "kg"),
    [
        ("625", FruitUnit.KG, "625"),
        ("100", FruitUnit.LB, "45.359237"),
        # A bushel of 42 lb: Making Apple Cider, University of Georgia Cooperative Extension.
        ("42", FruitUnit.LB, "19.05087954"),
        # A crate of 16 kg: community apple pressing guide, The Orchard Project.
        ("2.5", FruitUnit.CRATE, "40"),
        ("3", FruitUnit.SACK, "60"),
        ("0", FruitUnit.SACK, "0"),
        ("1000000", FruitUnit.KG, "1000000"),
    ],
)
def test_fruit_is_weighed_whatever_it_was_counted_in(amount: str, unit: FruitUnit, kg: str) -> None:
    assert fruit_kg(Decimal(amount), unit, crate_kg=SIXTEEN, sack_kg=TWENTY) == Decimal(kg)


@pytest.mark.parametrize("amount", ["-0.001", "1000000.01", "1E+999999", "NaN", "sNaN", "Infinity"])
def test_an_impossible_amount_of_fruit_is_refused(amount: str) -> None:
    with pytest.raises(AmountRefused) as refused:
        fruit_kg(Decimal(amount), FruitUnit.CRATE, crate_kg=SIXTEEN, sack_kg=TWENTY)

    assert refused.value.field == "amount"
    assert (refused.value.least, refused.value.most) == (Decimal(0), Decimal(1_000_000))


@pytest.mark.parametrize("weight", ["0", "-1", "1000.1", "NaN"])
def test_a_crate_or_sack_of_impossible_weight_is_refused(weight: str) -> None:
    with pytest.raises(AmountRefused) as crate:
        fruit_kg(Decimal(1), FruitUnit.KG, crate_kg=Decimal(weight), sack_kg=TWENTY)
    with pytest.raises(AmountRefused) as sack:
        fruit_kg(Decimal(1), FruitUnit.KG, crate_kg=SIXTEEN, sack_kg=Decimal(weight))

    assert (crate.value.field, sack.value.field) == ("crate_kg", "sack_kg")


def test_what_else_fruit_is_counted_in_weighs_what_is_said_of_it() -> None:
    said = {FruitUnit.SMALL_TREE: Decimal(50), FruitUnit.BUSHEL: None}
    usual = {"crate_kg": SIXTEEN, "sack_kg": TWENTY, "others": said}

    assert fruit_kg(Decimal("2.5"), FruitUnit.SMALL_TREE, **usual) == 125  # type: ignore[arg-type]
    for unit in (FruitUnit.BUSHEL, FruitUnit.LARGE_TREE):
        with pytest.raises(WeightUnknown) as refused:
            fruit_kg(Decimal(1), unit, **usual)  # type: ignore[arg-type]
        assert refused.value.unit is unit


@pytest.mark.parametrize("weight", ["0", "-1", "2000.1", "NaN"])
def test_a_tree_of_impossible_weight_is_refused(weight: str) -> None:
    with pytest.raises(AmountRefused) as tree:
        fruit_kg(
            Decimal(1),
            FruitUnit.LARGE_TREE,
            crate_kg=SIXTEEN,
            sack_kg=TWENTY,
            others={FruitUnit.LARGE_TREE: Decimal(weight)},
        )

    assert tree.value.field == "large_tree_kg"


def test_an_amount_is_a_finite_number() -> None:
    with pytest.raises(ValueError, match="finite"):
        Amount(value=Decimal("NaN"), unit=Unit.KG)
