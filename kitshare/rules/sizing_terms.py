"""The terms of sizing: known values and where they come from, what is entered, and what is refused.

`kitshare.rules.sizing` works the day out from them.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

# Litres of juice from a kilogram of fruit. Our choice within the published values: community apple
# pressing guide of The Orchard Project 0.50; Making Apple Cider, University of Georgia Cooperative
# Extension, 0.52 to 0.60; growers' pages on rack-and-cloth days 0.625.
YIELD_LOW = Decimal("0.45")
YIELD_EXPECTED = Decimal("0.55")
YIELD_HIGH = Decimal("0.70")
# Common practice, no source: at most 6 litres come from 10 kg, and containers for as much are brought.
YIELD_FOR_CONTAINERS = Decimal("0.60")
# Overripe fruit gave 0.275 L/kg in a grower's diary: shown as a warning, not planned for.
YIELD_RECORDED_BAD = Decimal("0.28")

# Juice of 12 Bx at 20 C, computed: its specific gravity, 1.0484 by the sucrose table, times the
# density of water, 0.9982 kg/L.
JUICE_KG_PER_LITRE = Decimal("1.0465")

# Room left in a container. From 10 to 75 C juice expands by about 2.5 percent: leave 4 when heating.
# It expands by 9 percent when it freezes: leave 10.
FILL_FOR_HEATING = Decimal("0.96")
FILL_FOR_FREEZING = Decimal("0.90")

# Common practice, no source: one re-used bottle in twenty is chipped, will not come clean, or breaks.
BREAKAGE_ALLOWANCE = Decimal("0.05")

# The lifting filter of the British Health and Safety Executive, as quoted elsewhere (check it against
# the edition in force): close to the body, between knuckle and elbow, 25 kg for men and 16 for women.
# A full sack should suit whoever is there. From the ground the filter gives only 10 and 7 kg: fill the
# sack on a bench, or lift it by two. Local rules come first.
LIFTING_GUIDE_KG = Decimal(16)
POMACE_SACK_KG = Decimal(15)


class Quantity(StrEnum):
    """What a number of the answer is, with its unit in the name where it has one."""

    FRUIT_KG = "fruit_kg"
    YIELD_LOW = "yield_low"
    YIELD_EXPECTED = "yield_expected"
    YIELD_FOR_CONTAINERS = "yield_for_containers"
    YIELD_HIGH = "yield_high"
    PLANNING_YIELD = "planning_yield"
    JUICE_LOW_LITRES = "juice_low_litres"
    JUICE_EXPECTED_LITRES = "juice_expected_litres"
    JUICE_HIGH_LITRES = "juice_high_litres"
    JUICE_TO_HOLD_LITRES = "juice_to_hold_litres"
    SHARE = "share"
    CONTAINER_LITRES = "container_litres"
    FILL_FRACTION = "fill_fraction"
    CONTAINERS_FILLED = "containers_filled"
    BREAKAGE_ALLOWANCE = "breakage_allowance"
    CONTAINERS_TO_BRING = "containers_to_bring"
    JUICE_KG_PER_LITRE = "juice_kg_per_litre"
    POMACE_LEAST_KG = "pomace_least_kg"
    POMACE_EXPECTED_KG = "pomace_expected_kg"
    POMACE_MOST_KG = "pomace_most_kg"
    POMACE_SACK_KG = "pomace_sack_kg"
    POMACE_SACKS = "pomace_sacks"


class Formula(StrEnum):
    """How a number was worked out from its inputs, taken in their order a, b, c, d."""

    LARGER = "larger"  # max(a, b)
    JUICE = "juice"  # a * b
    CONTAINERS = "containers"  # a * b / (c * d), rounded up
    BREAKAGE = "breakage"  # a * (1 + b), rounded up
    POMACE = "pomace"  # a - b * c
    SACKS = "sacks"  # a / b, rounded up


class Source(StrEnum):
    """Where a value comes from. The comments of this module name each in full."""

    ENTERED = "entered"  # by the village for this day, or by the scheme in its settings
    OUR_CHOICE = "our_choice"  # a default within the published values
    COMMON_PRACTICE = "common_practice"  # no source
    EXPANSION = "expansion"  # how juice expands when heated or frozen
    SUCROSE_TABLE = "sucrose_table"  # computed from it
    LIFTING_FILTER = "lifting_filter"  # quoted: check the edition in force
    DEFINITION = "definition"  # what the words mean: a yield is litres from a kilogram
    MASS_BALANCE = "mass_balance"  # what is not juice is pomace
    WORKED_OUT = "worked_out"  # by an earlier line


class SizingRefused(ValueError):
    """What was entered cannot be sized. `field` names the entry, `kind_key` the container if any."""

    def __init__(self, *, field: str, value: Decimal | str, kind_key: str = "") -> None:
        super().__init__(f"{type(self).__name__}: {field} {value} {kind_key}".rstrip())
        self.field = field
        self.value = value
        self.kind_key = kind_key


class OutOfRange(SizingRefused):
    """Not a number from `least` to `most`."""

    def __init__(self, *, field: str, value: Decimal, bounds: tuple[Decimal, Decimal], kind_key: str = "") -> None:
        super().__init__(field=field, value=value, kind_key=kind_key)
        self.least, self.most = bounds


class FruitOutOfRange(OutOfRange):
    """No fruit at all, or more than a kit could press in weeks."""


class YieldOutOfRange(OutOfRange):
    """A yield that no fruit gives."""


class YieldsOutOfOrder(SizingRefused):
    """The low, expected and high yield do not rise in this order."""


class SharesDoNotSum(SizingRefused):
    """The shares of the containers do not sum to 1; `value` is their sum (0 when there are none)."""


class KindTwice(SizingRefused):
    """The same kind of container stands in the mix twice."""


def _check(
    refusal: type[OutOfRange], field: str, value: Decimal, bounds: tuple[Decimal, Decimal], key: str = ""
) -> None:
    # Asked first: comparing with a NaN raises, and no NaN or infinity is a measure of anything.
    if not value.is_finite() or not bounds[0] <= value <= bounds[1]:
        raise refusal(field=field, value=value, bounds=bounds, kind_key=key)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerKind:
    """A kind of bottle, box or bag: `litres` when full to the brim (0.05 to 1200), and how much of it is filled.

    `fill_fraction` is 0.5 to 1; see FILL_FOR_HEATING and FILL_FOR_FREEZING. `reused_glass` asks
    for a breakage allowance. Raises OutOfRange.
    """

    LITRES: ClassVar = (Decimal("0.05"), Decimal(1200))
    FILL: ClassVar = (Decimal("0.5"), Decimal(1))

    key: str
    litres: Decimal
    fill_fraction: Decimal = FILL_FOR_HEATING
    reused_glass: bool = False

    def __post_init__(self) -> None:
        _check(OutOfRange, "litres", self.litres, self.LITRES, self.key)
        _check(OutOfRange, "fill_fraction", self.fill_fraction, self.FILL, self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerShare:
    """Which part of the juice, 0 to 1, goes into one kind of container. Raises OutOfRange."""

    SHARE: ClassVar = (Decimal(0), Decimal(1))

    kind: ContainerKind
    share: Decimal

    def __post_init__(self) -> None:
        _check(OutOfRange, "share", self.share, self.SHARE, self.kind.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingInput:
    """What is known before the day.

    `fruit_kg` is a gram to 20,000 kg; yields are 0.10 to 0.90 L/kg (at
    0.9556 nothing would be left but juice); `breakage_allowance` is 0 to 0.5; `pomace_sack_kg` 1
    to 50 kg. Shares of the mix sum to 1 exactly.

    Raises FruitOutOfRange, YieldOutOfRange, OutOfRange, YieldsOutOfOrder, KindTwice or
    SharesDoNotSum, all of them SizingRefused.
    """

    FRUIT_KG: ClassVar = (Decimal("0.001"), Decimal(20_000))
    YIELD: ClassVar = (Decimal("0.10"), Decimal("0.90"))
    BREAKAGE: ClassVar = (Decimal(0), Decimal("0.5"))
    SACK_KG: ClassVar = (Decimal(1), Decimal(50))

    fruit_kg: Decimal
    mix: tuple[ContainerShare, ...]
    yield_low: Decimal = YIELD_LOW
    yield_expected: Decimal = YIELD_EXPECTED
    yield_for_containers: Decimal = YIELD_FOR_CONTAINERS
    yield_high: Decimal = YIELD_HIGH
    breakage_allowance: Decimal = BREAKAGE_ALLOWANCE
    pomace_sack_kg: Decimal = POMACE_SACK_KG

    def __post_init__(self) -> None:
        _check(FruitOutOfRange, "fruit_kg", self.fruit_kg, self.FRUIT_KG)
        for field in ("yield_low", "yield_expected", "yield_for_containers", "yield_high"):
            _check(YieldOutOfRange, field, getattr(self, field), self.YIELD)
        if not self.yield_low <= self.yield_expected <= self.yield_high:
            raise YieldsOutOfOrder(field="yield_expected", value=self.yield_expected)
        _check(OutOfRange, "breakage_allowance", self.breakage_allowance, self.BREAKAGE)
        _check(OutOfRange, "pomace_sack_kg", self.pomace_sack_kg, self.SACK_KG)
        keys = [part.kind.key for part in self.mix]
        for key in keys:
            if keys.count(key) > 1:
                raise KindTwice(field="mix", value=key, kind_key=key)
        total = sum((part.share for part in self.mix), Decimal(0))
        if total != 1:
            raise SharesDoNotSum(field="mix", value=total)

    def expecting(self, own_yield: Decimal) -> "SizingInput":
        """The same day with the yield that a village expects; the range widens to hold it.

        Raises YieldOutOfRange.
        """
        _check(YieldOutOfRange, "yield_expected", own_yield, self.YIELD)
        return replace(
            self,
            yield_low=min(self.yield_low, own_yield),
            yield_expected=own_yield,
            yield_high=max(self.yield_high, own_yield),
        )
