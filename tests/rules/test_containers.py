"""Which container may hold what, and how full."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules import water
from kitshare.rules.containers import FILL, USUAL_KINDS, Kind, Material, RefusalCode, Use, grown_fill, refusals
from kitshare.rules.sizing_terms import OutOfRange


def kind(material: Material = Material.GLASS, **more: object) -> Kind:
    return Kind(key="k", litres=Decimal(1), material=material, **more)  # type: ignore[arg-type]


def codes(*args: object, **more: object) -> set[RefusalCode]:
    return {r.code for r in refusals(*args, **more)}  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("material", "heat_c", "code"),
    [
        (Material.PET, 75, RefusalCode.LIMIT_UNDER_HEAT),
        (Material.PET, 50, RefusalCode.LIMIT_UNDER_HEAT),
        (Material.PET, 49, None),
        (Material.HDPE, 75, RefusalCode.LIMIT_UNDER_HEAT),
        (Material.HDPE, 62.8, None),
        (Material.PP, 75, RefusalCode.LIMIT_UNDER_HEAT),
        (Material.PP, 73.9, None),
        (Material.FILM, 75, RefusalCode.LIMIT_UNKNOWN),
        (Material.BARE_STEEL, 75, RefusalCode.STEEL_CORRODES),
        (Material.GLAZED_POTTERY, 75, RefusalCode.GLAZE_DISSOLVES),
        (Material.GLASS, 75, None),
        (Material.STAINLESS_STEEL, 75, None),
    ],
)
def test_materials_bear_the_heat_or_are_refused(material: Material, heat_c: float, code: RefusalCode | None) -> None:
    assert codes(kind(material), Use.HEATED, heat_c=heat_c) == ({code} if code else set())


def test_a_refusal_carries_its_numbers() -> None:
    (refusal,) = refusals(kind(Material.PP), Use.HEATED, heat_c=75)

    assert (refusal.has, refusal.wanted) == (Decimal("73.9"), Decimal(75))
    (unknown,) = refusals(kind(Material.FILM), Use.HEATED, heat_c=75)
    assert (unknown.has, unknown.wanted) == (None, Decimal(75))


def test_the_makers_word_goes_before_the_materials() -> None:
    assert codes(kind(Material.PET, highest_fill_c=Decimal(85)), Use.HEATED, heat_c=75) == set()
    assert codes(kind(Material.GLASS, highest_fill_c=Decimal(60)), Use.HEATED, heat_c=75) == {
        RefusalCode.LIMIT_UNDER_HEAT
    }


@pytest.mark.parametrize("use", list(Use))
def test_what_acid_dissolves_is_refused_for_every_use(use: Use) -> None:
    assert RefusalCode.STEEL_CORRODES in codes(kind(Material.BARE_STEEL), use, heat_c=75)
    assert RefusalCode.GLAZE_DISSOLVES in codes(kind(Material.GLAZED_POTTERY), use, heat_c=75)
    assert RefusalCode.NOT_FOOD_GRADE in codes(kind(food_grade=False), use, heat_c=75)


@pytest.mark.parametrize("use", [Use.FRESH, Use.FROZEN, Use.TO_FERMENT])
def test_plastic_that_is_not_heated_is_not_judged_by_heat(use: Use) -> None:
    assert codes(kind(Material.PET), use, heat_c=75) == set()


@pytest.mark.parametrize(("fill", "refused"), [("0.96", False), ("0.979", True), ("1", True)])
def test_juice_must_have_room_to_grow(fill: str, refused: bool) -> None:
    found = refusals(kind(fill_fraction=Decimal(fill)), Use.HEATED, heat_c=75)

    assert ([r.code for r in found] == [RefusalCode.HEADSPACE_TOO_SMALL]) is refused
    if refused:
        assert found[0].has == 1 - Decimal(fill)
        assert found[0].wanted is not None
        assert found[0].wanted == round(found[0].wanted, 4)
        assert float(found[0].wanted) == pytest.approx(1 - 1.00176 / 1.0245, abs=3e-4)


def test_juice_filled_in_warm_has_less_to_grow_and_cold_juice_fills_to_the_brim() -> None:
    assert codes(kind(fill_fraction=Decimal("0.98")), Use.HEATED, heat_c=75, fill_c=40) == set()
    assert codes(kind(fill_fraction=Decimal(1)), Use.FRESH, heat_c=75) == set()


def test_plastic_is_not_counted_on_to_grow_with_the_juice() -> None:
    grown = grown_fill(kind(Material.HDPE), Use.HEATED, heat_c=60)

    assert grown == pytest.approx(0.96 * (1 + water.juice_growth(10, 60)), rel=1e-9)


def test_frozen_juice_grows_into_its_tenth() -> None:
    """Water by 998.2 / 917 - 1 (densities of water at 20 C and of ice), of which juice of 12 Bx is 92.3 parts of 100."""
    assert kind(fill_fraction=Decimal(1)).fill_for(Use.FROZEN) == Decimal("0.90")
    assert grown_fill(kind(), Use.FROZEN, heat_c=75) == pytest.approx(0.90 * (1 + 0.923 * 0.0886), abs=5e-4)


def test_a_bottle_to_the_shoulder_is_nearly_full_when_hot() -> None:
    grown = grown_fill(kind(), Use.HEATED, heat_c=75)

    assert grown == pytest.approx(0.96 * (1 + water.juice_growth(10, 75)) / 1.00176, abs=1e-4)
    assert 0.97 < grown < 1


@given(st.decimals("0.5", 1, places=3))
@settings(deadline=None)
def test_frozen_juice_always_has_its_tenth(fill: Decimal) -> None:
    own = kind(fill_fraction=fill)

    assert own.fill_for(Use.FROZEN) <= Decimal("0.90")
    assert grown_fill(own, Use.FROZEN, heat_c=75) < 1


def test_weights_are_of_the_full_container() -> None:
    can = Kind(key="can", litres=Decimal(20), material=Material.HDPE, tare_kg=Decimal(1))

    assert can.full_kg(Use.FRESH) == Decimal(1) + Decimal(20) * FILL[Use.FRESH] * Decimal("1.0465")
    assert can.heavy(Use.FRESH)
    at_the_guide = kind(tare_kg=Decimal(16) - FILL[Use.FRESH] * Decimal("1.0465"))
    assert at_the_guide.full_kg(Use.FRESH) == 16
    assert not at_the_guide.heavy(Use.FRESH)
    assert not kind().heavy(Use.FRESH)


def test_the_usual_kinds_have_a_use_each() -> None:
    assert len({k.key for k in USUAL_KINDS}) == len(USUAL_KINDS)
    for usual in USUAL_KINDS:
        assert any(not refusals(usual, use, heat_c=75) for use in Use)


@pytest.mark.parametrize(
    "wrong",
    [
        {"litres": Decimal(0)},
        {"litres": Decimal("NaN")},
        {"litres": Decimal(1201)},
        {"fill_fraction": Decimal("1.01")},
        {"highest_fill_c": Decimal(151)},
        {"tare_kg": Decimal(-1)},
        {"per_crate": 0},
    ],
)
def test_what_is_no_container_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(OutOfRange) as refused:
        Kind(**{"key": "k", "litres": Decimal(1), "material": Material.GLASS, **wrong})  # type: ignore[arg-type]

    assert refused.value.kind_key == "k"
    assert refused.value.field in wrong
    assert str(refused.value.value) == str(wrong[refused.value.field])
