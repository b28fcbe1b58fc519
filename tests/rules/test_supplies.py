"""Supplies: doses, dilutions, mass balance."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules import supplies
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE, OutOfRange
from kitshare.rules.supplies import Sanitiser


@given(
    st.sampled_from(list(Sanitiser)),
    st.decimals("0.2", 100, places=2),
    st.decimals("0.1", 2000, places=1),
    st.integers(1, 1000),
)
@settings(deadline=None)
def test_a_dilution_has_the_strength_wanted(sanitiser: Sanitiser, strength: Decimal, litres: Decimal, ppm: int) -> None:
    found = supplies.dilution(sanitiser, strength_percent=strength, litres=litres, ppm=Decimal(ppm))

    made = found.concentrate_ml / 1000 * strength * 10_000 / litres
    assert made == pytest.approx(Decimal(ppm), rel=Decimal("1e-12"))


@pytest.mark.parametrize(
    ("sanitiser", "ppm", "seconds"),
    [(Sanitiser.CHLORINE, 100, 30), (Sanitiser.IODINE, 25, 60), (Sanitiser.QUAT, 200, 60)],
)
def test_strength_and_time_go_together(sanitiser: Sanitiser, ppm: int, seconds: int) -> None:
    found = supplies.dilution(sanitiser, strength_percent=Decimal(5))

    assert (found.ppm, found.seconds, found.rinse) == (ppm, seconds, False)
    assert found.litres == 20


@pytest.mark.parametrize(("ppm", "rinse"), [(200, False), (201, True)])
def test_strong_chlorine_is_rinsed_off(ppm: int, rinse: bool) -> None:
    assert supplies.dilution(Sanitiser.CHLORINE, strength_percent=Decimal(5), ppm=Decimal(ppm)).rinse is rinse
    assert not supplies.dilution(Sanitiser.QUAT, strength_percent=Decimal(5), ppm=Decimal(ppm)).rinse


def test_ascorbic_acid_is_dosed_in_grams() -> None:
    found = supplies.ascorbic_acid(Decimal(220))

    assert found.grams == 110
    assert found.teaspoons == 37
    assert supplies.ascorbic_acid(Decimal(0)).teaspoons == 0


@given(st.decimals("0.1", 20_000, places=1), st.decimals(0, "0.95", places=3), st.decimals(1, 50, places=1))
@settings(deadline=None)
def test_what_is_not_juice_is_pomace(fruit: Decimal, its_yield: Decimal, sack: Decimal) -> None:
    juice = fruit * its_yield

    found = supplies.pomace(fruit, juice, sack_kg=sack)

    assert found.kg + juice * JUICE_KG_PER_LITRE == fruit
    assert found.sacks * sack >= found.kg
    assert (found.sacks - 1) * sack < found.kg


def test_cloths_have_two_spare() -> None:
    assert supplies.cloths(cloths_per_cheese=8) == 10
    assert supplies.cloths(cloths_per_cheese=8, cheeses_at_once=2) == 18


def test_water_is_for_fruit_cleaning_sanitising_and_the_bath() -> None:
    assert supplies.water_litres(Decimal(400), bath_litres=Decimal(30)) == 200 + 100 + 20 + 30


def test_electricity_adds_up() -> None:
    loads = {"mill": (Decimal("2.2"), Decimal(2)), "bath": (Decimal(3), Decimal("5.5"))}

    found = supplies.electricity(loads, price_per_kwh=Decimal("0.30"))

    assert found.kwh == Decimal("20.9")
    assert found.cost == Decimal("6.27")


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: supplies.dilution(Sanitiser.CHLORINE, strength_percent=Decimal(0)), "strength_percent"),
        (lambda: supplies.dilution(Sanitiser.CHLORINE, strength_percent=Decimal("NaN")), "strength_percent"),
        (lambda: supplies.dilution(Sanitiser.CHLORINE, strength_percent=Decimal(5), ppm=Decimal(1001)), "ppm"),
        (lambda: supplies.dilution(Sanitiser.CHLORINE, strength_percent=Decimal(5), litres=Decimal(0)), "litres"),
        (lambda: supplies.ascorbic_acid(Decimal(-1)), "juice_litres"),
        (lambda: supplies.ascorbic_acid(Decimal(1), grams_per_litre=Decimal(4)), "grams_per_litre"),
        (lambda: supplies.pomace(Decimal(10), Decimal(10)), "juice_litres"),
        (lambda: supplies.pomace(Decimal(500_000), Decimal(10)), "fruit_kg"),
        (lambda: supplies.pomace(Decimal(10), Decimal(5), sack_kg=Decimal(51)), "sack_kg"),
        (lambda: supplies.cloths(cloths_per_cheese=0), "cloths_per_cheese"),
        (lambda: supplies.cloths(cloths_per_cheese=1, cheeses_at_once=0), "cheeses_at_once"),
        (lambda: supplies.water_litres(Decimal(-1)), "fruit_kg"),
        (lambda: supplies.water_litres(Decimal(1), bath_litres=Decimal(-1)), "bath_litres"),
        (lambda: supplies.electricity({"x": (Decimal(101), Decimal(1))}, price_per_kwh=Decimal(1)), "x.kw"),
        (lambda: supplies.electricity({"x": (Decimal(1), Decimal(501))}, price_per_kwh=Decimal(1)), "x.hours"),
        (lambda: supplies.electricity({}, price_per_kwh=Decimal(-1)), "price_per_kwh"),
    ],
)
def test_nonsense_is_refused_by_name(call, field: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange) as refused:
        call()

    assert refused.value.field == field


D = Decimal
CHLORINE = Sanitiser.CHLORINE
STEP = D("0.0001")


@pytest.mark.parametrize(
    ("name", "call", "low", "high", "step"),
    [
        ("ppm", lambda v: supplies.dilution(CHLORINE, strength_percent=D(5), ppm=v), D(1), D(1000), STEP),
        ("strength_percent", lambda v: supplies.dilution(CHLORINE, strength_percent=v, ppm=D(50)), D("0.1"), D(100), STEP),
        ("strength_percent", lambda v: supplies.dilution(CHLORINE, strength_percent=v, ppm=D(1000)), D("0.1"), D(100), STEP),
        ("litres", lambda v: supplies.dilution(CHLORINE, strength_percent=D(5), litres=v), D("0.1"), D(2000), STEP),
        ("juice_litres", supplies.ascorbic_acid, D(0), D(20_000), STEP),
        ("grams_per_litre", lambda v: supplies.ascorbic_acid(D(1), grams_per_litre=v), D(0), D(3), STEP),
        ("fruit_kg", lambda v: supplies.pomace(v, D(0)), D(0), D(20_000), STEP),
        ("juice_litres", lambda v: supplies.pomace(JUICE_KG_PER_LITRE, v), D(0), D(1), STEP),
        ("sack_kg", lambda v: supplies.pomace(D(1), D(0), sack_kg=v), D(1), D(50), STEP),
        ("cloths_per_cheese", lambda v: supplies.cloths(cloths_per_cheese=int(v)), D(1), D(40), D(1)),
        ("cheeses_at_once", lambda v: supplies.cloths(cloths_per_cheese=1, cheeses_at_once=int(v)), D(1), D(20), D(1)),
        ("fruit_kg", supplies.water_litres, D(0), D(20_000), STEP),
        ("bath_litres", lambda v: supplies.water_litres(D(1), bath_litres=v), D(0), D(5000), STEP),
        ("wash_litres_per_kg", lambda v: supplies.water_litres(D(1), wash_litres_per_kg=v), D(0), D(20), STEP),
        ("clean_litres", lambda v: supplies.water_litres(D(1), clean_litres=v), D(0), D(5000), STEP),
        ("price_per_kwh", lambda v: supplies.electricity({}, price_per_kwh=v), D(0), D(1_000_000), STEP),
        ("mill.kw", lambda v: supplies.electricity({"mill": (v, D(0))}, price_per_kwh=D(0)), D(0), D(100), STEP),
        ("mill.hours", lambda v: supplies.electricity({"mill": (D(0), v)}, price_per_kwh=D(0)), D(0), D(500), STEP),
    ],
)  # fmt: skip
def test_a_bound_is_taken_and_what_lies_beyond_is_refused_by_its_name(name, call, low, high, step) -> None:  # type: ignore[no-untyped-def]
    call(low)
    call(high)
    for value in (low - step, high + step, D("NaN")):
        if value.is_nan() and step == 1:
            continue
        with pytest.raises(OutOfRange) as refused:
            call(value)
        assert (refused.value.field, refused.value.least, refused.value.most) == (name, low, high)
        assert value.is_nan() or refused.value.value == value


def test_without_loads_there_is_no_energy_as_a_decimal() -> None:
    none = supplies.electricity({}, price_per_kwh=D("0.3"))

    assert (none.kwh, none.cost) == (0, 0)
    assert isinstance(none.kwh, Decimal)
