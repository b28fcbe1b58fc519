"""Fruit in the measures of a village."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.fruit import KG_EACH, MOST_KG_EACH, Measure, WeightUnknown, fruit
from kitshare.rules.sizing_terms import FruitOutOfRange, OutOfRange


@pytest.mark.parametrize(
    ("amount", "measure", "kg"),
    [
        ("400", Measure.KG, "400"),
        ("25", Measure.CRATE, "400"),
        ("3", Measure.SACK, "60"),
        ("2", Measure.SMALL_TREE, "100"),
        ("1", Measure.LARGE_TREE, "250"),
    ],
)
def test_measures_become_kilograms(amount: str, measure: Measure, kg: str) -> None:
    assert fruit(Decimal(amount), measure).picked_kg == Decimal(kg)


def test_a_bushel_weighs_what_the_scheme_says_or_nothing() -> None:
    own = {**KG_EACH, Measure.BUSHEL: Decimal("19")}

    assert fruit(Decimal(10), Measure.BUSHEL, kg_each=own).picked_kg == 190
    with pytest.raises(WeightUnknown) as refused:
        fruit(Decimal(10), Measure.BUSHEL)
    assert refused.value.measure is Measure.BUSHEL


@given(st.decimals("0.01", 20_000, places=2), st.decimals(0, "0.9", places=3))
@settings(deadline=None)
def test_what_is_picked_is_pressed_or_sorted_out(amount: Decimal, loss: Decimal) -> None:
    found = fruit(amount, sorting_loss=loss)

    assert found.pressed_kg + found.sorted_out_kg == found.picked_kg
    assert 0 < found.pressed_kg <= found.picked_kg


@pytest.mark.parametrize("amount", ["0", "-1", "500000", "20000.01", "NaN", "Infinity", "1E+30"])
def test_no_fruit_and_mountains_of_fruit_are_refused(amount: str) -> None:
    with pytest.raises(FruitOutOfRange) as refused:
        fruit(Decimal(amount))

    assert refused.value.field == "fruit"


@pytest.mark.parametrize(("loss", "each"), [("0.91", "16"), ("-0.1", "16"), ("NaN", "16"), ("0", "0"), ("0", "2001")])
def test_losses_and_weights_have_bounds(loss: str, each: str) -> None:
    with pytest.raises(OutOfRange):
        fruit(Decimal(1), Measure.CRATE, sorting_loss=Decimal(loss), kg_each={Measure.CRATE: Decimal(each)})


@pytest.mark.parametrize("amount", ["0.0009", "20000.0001", "20000000", "-1", "0", "20000001"])
def test_a_refusal_of_fruit_says_how_much_it_was_and_what_is_taken(amount: str) -> None:
    with pytest.raises(FruitOutOfRange) as refused:
        fruit(Decimal(amount))

    assert (refused.value.value, refused.value.least, refused.value.most) == (
        Decimal(amount),
        Decimal("0.001"),
        Decimal(20_000),
    )


def test_the_least_and_the_most_fruit_are_taken() -> None:
    assert fruit(Decimal("0.001")).pressed_kg == Decimal("0.001")
    assert fruit(Decimal(20_000)).pressed_kg == 20_000
    pips = {Measure.SACK: Decimal("0.001")}
    assert fruit(Decimal(20_000_000), Measure.SACK, kg_each=pips).picked_kg == 20_000


@pytest.mark.parametrize(
    ("loss", "each", "field", "value", "most"),
    [("0.91", "16", "sorting_loss", "0.91", "0.9"), ("0", "2001", "kg_each", "2001", None)],
)
def test_a_refusal_of_a_loss_or_a_weight_names_it(
    loss: str, each: str, field: str, value: str, most: str | None
) -> None:
    with pytest.raises(OutOfRange) as refused:
        fruit(Decimal(1), Measure.CRATE, sorting_loss=Decimal(loss), kg_each={Measure.CRATE: Decimal(each)})

    assert (refused.value.field, refused.value.value) == (field, Decimal(value))
    assert most is None or refused.value.most == Decimal(most)


def test_the_greatest_loss_and_weight_are_taken() -> None:
    assert fruit(Decimal(1), sorting_loss=Decimal("0.9")).pressed_kg == Decimal("0.1")
    assert fruit(Decimal(1), Measure.CRATE, kg_each={Measure.CRATE: MOST_KG_EACH}).picked_kg == MOST_KG_EACH
