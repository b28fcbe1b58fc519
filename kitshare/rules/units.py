"""Units that a village thinks in, and the exact factors between them.

Inside the project a mass is in kilograms, a volume in litres, a temperature in degrees Celsius.
Other units exist only where a person types or reads. A bushel has no factor here: by custom it is
a mass that differs from variety to variety. What it weighs, or a crate, a sack or the fruit of a
tree, is the scheme's own setting.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import overload

# Exact by definition. The documents are named from memory; tests check each factor against pint.
# The international pound, since the agreement of 1959.
KG_PER_LB = Decimal("0.45359237")
# The imperial gallon: Weights and Measures Act 1985 (United Kingdom), schedule 1.
LITRES_PER_IMPERIAL_GALLON = Decimal("4.54609")
# The US liquid gallon: 231 cubic inches of 2.54 cm, NIST Handbook 44, appendix C.
LITRES_PER_US_GALLON = Decimal("3.785411784")

ABSOLUTE_ZERO_CELSIUS = -273.15


class UnitSystem(StrEnum):
    """The units that a scheme reads. Imperial and US differ in the gallon."""

    METRIC = "metric"
    IMPERIAL = "imperial"
    US = "us"


class Unit(StrEnum):
    """A unit of mass or of volume."""

    KG = "kg"
    LB = "lb"
    LITRE = "litre"
    IMPERIAL_GALLON = "imperial_gallon"
    US_GALLON = "us_gallon"


class FruitUnit(StrEnum):
    """What a village counts its fruit in."""

    KG = "kg"
    LB = "lb"
    CRATE = "crate"
    SACK = "sack"
    BUSHEL = "bushel"
    SMALL_TREE = "small_tree"
    LARGE_TREE = "large_tree"


KG_PER = {Unit.KG: Decimal(1), Unit.LB: KG_PER_LB}
LITRES_PER = {
    Unit.LITRE: Decimal(1),
    Unit.IMPERIAL_GALLON: LITRES_PER_IMPERIAL_GALLON,
    Unit.US_GALLON: LITRES_PER_US_GALLON,
}
MASS_UNIT = {UnitSystem.METRIC: Unit.KG, UnitSystem.IMPERIAL: Unit.LB, UnitSystem.US: Unit.LB}
VOLUME_UNIT = {
    UnitSystem.METRIC: Unit.LITRE,
    UnitSystem.IMPERIAL: Unit.IMPERIAL_GALLON,
    UnitSystem.US: Unit.US_GALLON,
}
MOST = Decimal(1_000_000)


class UnitsDiffer(ValueError):
    """A mass asked for as a volume, or the other way round."""


class AmountRefused(ValueError):
    """An amount outside `least` to `most`. `field` names the argument to correct."""

    def __init__(self, *, field: str, value: Decimal, least: Decimal, most: Decimal) -> None:
        super().__init__(f"{field} lies between {least} and {most}: {value}")
        self.field = field
        self.value = value
        self.least = least
        self.most = most


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """So much of a unit. Raises ValueError when it is not a finite number."""

    value: Decimal
    unit: Unit

    def __post_init__(self) -> None:
        if not self.value.is_finite():
            raise ValueError(f"an amount is a finite number: {self.value}")


def convert(amount: Amount, to: Unit) -> Amount:
    """The same amount in another unit, unrounded (to the 28 digits of Decimal).

    Raises UnitsDiffer between mass and volume.
    """
    for table in (KG_PER, LITRES_PER):
        if amount.unit in table and to in table:
            return Amount(value=amount.value * table[amount.unit] / table[to], unit=to)
    raise UnitsDiffer(f"{amount.unit} cannot be read as {to}")


@overload
def in_system(*, system: UnitSystem, kg: Decimal) -> Amount: ...
@overload
def in_system(*, system: UnitSystem, litres: Decimal) -> Amount: ...
def in_system(*, system: UnitSystem, kg: Decimal | None = None, litres: Decimal | None = None) -> Amount:
    """A mass or a volume as the scheme reads it, rounded by `for_display`: 10 kg is 22 lb.

    Takes either `kg` or `litres`, raises TypeError otherwise.
    """
    if kg is not None and litres is None:
        amount = convert(Amount(value=kg, unit=Unit.KG), MASS_UNIT[system])
    elif litres is not None and kg is None:
        amount = convert(Amount(value=litres, unit=Unit.LITRE), VOLUME_UNIT[system])
    else:
        raise TypeError("either kg or litres")
    return Amount(value=for_display(amount.value), unit=amount.unit)


def for_display(value: Decimal) -> Decimal:
    """Rounded to what is worth reading.

    Whole from 100 up, one decimal from 10 up, two below; halves go away from zero.
    From 1 up the change is half a percent at most, which is far less than any yield is known to.
    Trailing zeros are dropped. Never use it for what must be enough: counts are rounded up where
    they are worked out.
    """
    size = abs(value)
    step = Decimal(1) if size >= 100 else Decimal("0.1") if size >= 10 else Decimal("0.01")
    rounded = value.quantize(step, rounding=ROUND_HALF_UP)
    return rounded.quantize(Decimal(1)) if rounded == rounded.to_integral_value() else rounded.normalize()


class WeightUnknown(ValueError):
    """A unit of which nobody has said what one weighs."""

    def __init__(self, unit: FruitUnit) -> None:
        super().__init__(f"nobody has said what a {unit} weighs")
        self.unit = unit


def fruit_kg(
    amount: Decimal,
    unit: FruitUnit,
    *,
    crate_kg: Decimal,
    sack_kg: Decimal,
    others: Mapping[FruitUnit, Decimal | None] = MappingProxyType({}),
) -> Decimal:
    """Kilograms of fruit in so many kilograms, pounds, crates or sacks, or in what has a weight in `others`.

    `amount` is 0 to 1,000,000 and need not be whole; a full crate or sack weighs `crate_kg` or
    `sack_kg`, more than 0 and at most 1000, one of the others at most 2000. Raises AmountRefused,
    and WeightUnknown for a unit of which nobody says what one weighs.
    """
    _check(field="amount", value=amount, least=Decimal(0), most=MOST)
    _check(field="crate_kg", value=crate_kg, least=Decimal("0.001"), most=Decimal(1000))
    _check(field="sack_kg", value=sack_kg, least=Decimal("0.001"), most=Decimal(1000))
    kg_per = {
        FruitUnit.KG: Decimal(1),
        FruitUnit.LB: KG_PER_LB,
        FruitUnit.CRATE: crate_kg,
        FruitUnit.SACK: sack_kg,
        **others,
    }
    each = kg_per.get(unit)
    if each is None:
        raise WeightUnknown(unit)
    _check(field=f"{unit}_kg", value=each, least=Decimal("0.001"), most=Decimal(2000))
    return amount * each


def to_fahrenheit(celsius: float) -> float:
    """Degrees Fahrenheit: nine fifths of the Celsius value and 32, exact by definition.

    Raises ValueError below absolute zero, and for what is not a finite number.
    """
    if not ABSOLUTE_ZERO_CELSIUS <= celsius < float("inf"):
        raise ValueError(f"no such temperature: {celsius} degrees Celsius")
    return celsius * 9 / 5 + 32


def to_celsius(fahrenheit: float) -> float:
    """Degrees Celsius from degrees Fahrenheit. Raises as `to_fahrenheit` does."""
    celsius = (fahrenheit - 32) * 5 / 9
    if not ABSOLUTE_ZERO_CELSIUS - 1e-9 <= celsius < float("inf"):
        raise ValueError(f"no such temperature: {fahrenheit} degrees Fahrenheit")
    return celsius


def _check(*, field: str, value: Decimal, least: Decimal, most: Decimal) -> None:
    if not (value.is_finite() and least <= value <= most):
        raise AmountRefused(field=field, value=value, least=least, most=most)
