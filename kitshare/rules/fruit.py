"""Fruit as a village counts it: kilograms, crates, sacks, bushels or trees, less what the sorting takes out."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kitshare.rules.sizing_terms import FRUIT_KG, FruitOutOfRange, OutOfRange

MOST_KG_EACH = Decimal(2000)
MOST_SORTING_LOSS = Decimal("0.9")


class Measure(StrEnum):
    """What the fruit is counted in."""

    KG = "kg"
    CRATE = "crate"
    SACK = "sack"
    BUSHEL = "bushel"
    SMALL_TREE = "small_tree"
    LARGE_TREE = "large_tree"


# The Orchard Project, community apple pressing guide: a 16 kg crate gives 8 litres, a small tree
# bears 50 kg, a large one over 250. A sack has no source. A bushel has no value here at all: a heaped
# one weighs 39 to 57 lb by variety (Bailey, Farm and garden rule-book), so the scheme must say.
KG_EACH: Mapping[Measure, Decimal] = {
    Measure.KG: Decimal(1),
    Measure.CRATE: Decimal(16),
    Measure.SACK: Decimal(20),
    Measure.SMALL_TREE: Decimal(50),
    Measure.LARGE_TREE: Decimal(250),
}


class WeightUnknown(ValueError):
    """A measure whose weight nobody has said: the bushel, unless the scheme sets it."""

    def __init__(self, measure: Measure) -> None:
        super().__init__(f"nobody has said what a {measure} weighs")
        self.measure = measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Fruit:
    """Fruit picked and fruit pressed, in kilograms: the difference is sorted out as rotten or bruised."""

    picked_kg: Decimal
    pressed_kg: Decimal

    @property
    def sorted_out_kg(self) -> Decimal:
        """Kilograms that go back to the ground and not into the mill."""
        return self.picked_kg - self.pressed_kg


def fruit(
    amount: Decimal,
    measure: Measure = Measure.KG,
    *,
    sorting_loss: Decimal = Decimal(0),
    kg_each: Mapping[Measure, Decimal] = KG_EACH,
) -> Fruit:
    """Work out the fruit to press. `sorting_loss` is the share taken out, 0 to 0.9.

    Raises `FruitOutOfRange` unless a gram to 20,000 kg are left to press, `OutOfRange` for the loss or the weight of
    one, `WeightUnknown` for a measure without a weight.
    """
    if measure not in kg_each:
        raise WeightUnknown(measure)
    _require("kg_each", kg_each[measure], Decimal("0.001"), MOST_KG_EACH)
    _require("sorting_loss", sorting_loss, Decimal(0), MOST_SORTING_LOSS)
    low, high = FRUIT_KG
    if not amount.is_finite() or not 0 < amount <= high * 1000:
        raise FruitOutOfRange(field="fruit", value=amount, bounds=(low, high))
    picked = amount * kg_each[measure]
    pressed = picked * (1 - sorting_loss)
    if not low <= pressed <= high:
        raise FruitOutOfRange(field="fruit", value=pressed, bounds=(low, high))
    return Fruit(picked_kg=picked, pressed_kg=pressed)


def _require(field: str, value: Decimal, low: Decimal, high: Decimal) -> None:
    if not value.is_finite() or not low <= value <= high:
        raise OutOfRange(field=field, value=value, bounds=(low, high))
