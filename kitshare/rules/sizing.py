"""From so many kilograms of fruit to juice, containers to bring, spent pomace and sacks.

The yield of a day is not known beforehand, so juice is a range. Containers are planned so that
juice is never without one: by the planning yield, or by the yield that the village expects when
that is larger. Pomace is what the mass balance leaves, losses on cloths and floor included, so
there are rather too many sacks than too few.

Each number of the answer has a line that names its formula, its inputs and where they come from.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from kitshare.rules.sizing_terms import (
    BREAKAGE_ALLOWANCE,
    FILL_FOR_FREEZING,
    FILL_FOR_HEATING,
    JUICE_KG_PER_LITRE,
    LIFTING_GUIDE_KG,
    POMACE_SACK_KG,
    YIELD_EXPECTED,
    YIELD_FOR_CONTAINERS,
    YIELD_HIGH,
    YIELD_LOW,
    ContainerKind,
    ContainerShare,
    Formula,
    Quantity,
    SizingInput,
    Source,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A number, what it is, and where it comes from."""

    quantity: Quantity
    amount: Decimal
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One step of the reckoning: `source` is the formula's, `kind_key` the container's if any."""

    formula: Formula
    inputs: tuple[Value, ...]
    result: Value
    source: Source
    kind_key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerCount:
    """How many of one kind are filled by its share of the juice to hold, and how many to bring."""

    kind: ContainerKind
    share: Decimal
    filled: int
    to_bring: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """What to expect and what to bring. Litres and kilograms are unrounded."""

    given: SizingInput
    juice_low_litres: Decimal
    juice_expected_litres: Decimal
    juice_high_litres: Decimal
    juice_to_hold_litres: Decimal
    containers: tuple[ContainerCount, ...]
    pomace_least_kg: Decimal
    pomace_expected_kg: Decimal
    pomace_most_kg: Decimal
    pomace_sacks: int
    lines: tuple[Line, ...]

    @property
    def sacks_are_heavy(self) -> bool:
        """Whether a full pomace sack is over the lifting guide for one person: lift it by two."""
        return self.given.pomace_sack_kg > LIFTING_GUIDE_KG


# Values known to us, and their sources. Any other was entered.
_KNOWN = {
    (Quantity.YIELD_LOW, YIELD_LOW): Source.OUR_CHOICE,
    (Quantity.YIELD_EXPECTED, YIELD_EXPECTED): Source.OUR_CHOICE,
    (Quantity.YIELD_HIGH, YIELD_HIGH): Source.OUR_CHOICE,
    (Quantity.YIELD_FOR_CONTAINERS, YIELD_FOR_CONTAINERS): Source.COMMON_PRACTICE,
    (Quantity.FILL_FRACTION, FILL_FOR_HEATING): Source.EXPANSION,
    (Quantity.FILL_FRACTION, FILL_FOR_FREEZING): Source.EXPANSION,
    (Quantity.BREAKAGE_ALLOWANCE, BREAKAGE_ALLOWANCE): Source.COMMON_PRACTICE,
    (Quantity.JUICE_KG_PER_LITRE, JUICE_KG_PER_LITRE): Source.SUCROSE_TABLE,
    (Quantity.POMACE_SACK_KG, POMACE_SACK_KG): Source.LIFTING_FILTER,
}


def _given(quantity: Quantity, amount: Decimal) -> Value:
    source = _KNOWN.get((quantity, amount), Source.ENTERED)
    return Value(quantity=quantity, amount=amount, source=source)


# Worked out in fractions: a quotient cut to 28 digits may fall on the wrong side of a whole number.
_WORK: dict[Formula, Callable[..., Fraction | int]] = {
    Formula.LARGER: max,
    Formula.JUICE: lambda fruit, its_yield: fruit * its_yield,
    Formula.CONTAINERS: lambda juice, share, litres, fill: math.ceil(juice * share / (litres * fill)),
    Formula.BREAKAGE: lambda filled, allowance: math.ceil(filled * (1 + allowance)),
    Formula.POMACE: lambda fruit, juice, density: fruit - juice * density,
    Formula.SACKS: lambda pomace, sack: math.ceil(pomace / sack),
}


def _line(formula: Formula, source: Source, result: Quantity, *inputs: Value, kind_key: str = "") -> Line:
    exact = _WORK[formula](*(Fraction(value.amount) for value in inputs))
    amount = Decimal(exact.numerator) / Decimal(exact.denominator)
    value = Value(quantity=result, amount=amount, source=Source.WORKED_OUT)
    return Line(formula=formula, inputs=inputs, result=value, source=source, kind_key=kind_key)


def size_day(given: SizingInput) -> Sizing:
    """Juice, containers, spent pomace and sacks from a mass of fruit.

    Juice in litres is fruit times yield. The containers hold the juice of the larger of the
    planning yield and the expected yield, each kind its share, rounded up; re-used glass gets the
    breakage allowance on top, rounded up again. Pomace in kilograms is the fruit less the mass of
    the juice, so the low yield leaves the most; sacks are counted for that. Exact for numbers of
    up to 14 digits.
    """
    fruit = _given(Quantity.FRUIT_KG, given.fruit_kg)
    low = _given(Quantity.YIELD_LOW, given.yield_low)
    expected = _given(Quantity.YIELD_EXPECTED, given.yield_expected)
    high = _given(Quantity.YIELD_HIGH, given.yield_high)
    cover = _given(Quantity.YIELD_FOR_CONTAINERS, given.yield_for_containers)
    sack = _given(Quantity.POMACE_SACK_KG, given.pomace_sack_kg)
    juice = [
        _line(Formula.JUICE, Source.DEFINITION, Quantity.JUICE_LOW_LITRES, fruit, low),
        _line(Formula.JUICE, Source.DEFINITION, Quantity.JUICE_EXPECTED_LITRES, fruit, expected),
        _line(Formula.JUICE, Source.DEFINITION, Quantity.JUICE_HIGH_LITRES, fruit, high),
    ]
    planning = _line(Formula.LARGER, Source.OUR_CHOICE, Quantity.PLANNING_YIELD, cover, expected)
    to_hold = _line(Formula.JUICE, Source.DEFINITION, Quantity.JUICE_TO_HOLD_LITRES, fruit, planning.result)
    counted = [_count_containers(to_hold.result, part, given) for part in given.mix]
    pomace = _pomace_lines(fruit, juice)
    sacks = _line(Formula.SACKS, Source.DEFINITION, Quantity.POMACE_SACKS, pomace[-1].result, sack)
    container_lines = [line for _, lines in counted for line in lines]
    return Sizing(
        given=given,
        juice_low_litres=juice[0].result.amount,
        juice_expected_litres=juice[1].result.amount,
        juice_high_litres=juice[2].result.amount,
        juice_to_hold_litres=to_hold.result.amount,
        containers=tuple(count for count, _ in counted),
        pomace_least_kg=pomace[0].result.amount,
        pomace_expected_kg=pomace[1].result.amount,
        pomace_most_kg=pomace[2].result.amount,
        pomace_sacks=int(sacks.result.amount),
        lines=(*juice, planning, to_hold, *container_lines, *pomace, sacks),
    )


def _pomace_lines(fruit: Value, juice: list[Line]) -> list[Line]:
    """Least, expected and most pomace: the more juice, the less is left."""
    density = _given(Quantity.JUICE_KG_PER_LITRE, JUICE_KG_PER_LITRE)
    results = (Quantity.POMACE_LEAST_KG, Quantity.POMACE_EXPECTED_KG, Quantity.POMACE_MOST_KG)
    return [
        _line(Formula.POMACE, Source.MASS_BALANCE, result, fruit, line.result, density)
        for result, line in zip(results, reversed(juice), strict=True)
    ]


def _count_containers(to_hold: Value, part: ContainerShare, given: SizingInput) -> tuple[ContainerCount, list[Line]]:
    kind = part.kind
    filled = _line(
        Formula.CONTAINERS,
        Source.DEFINITION,
        Quantity.CONTAINERS_FILLED,
        to_hold,
        _given(Quantity.SHARE, part.share),
        _given(Quantity.CONTAINER_LITRES, kind.litres),
        _given(Quantity.FILL_FRACTION, kind.fill_fraction),
        kind_key=kind.key,
    )
    lines = [filled]
    if kind.reused_glass:
        allowance = _given(Quantity.BREAKAGE_ALLOWANCE, given.breakage_allowance)
        lines.append(
            _line(
                Formula.BREAKAGE,
                Source.COMMON_PRACTICE,
                Quantity.CONTAINERS_TO_BRING,
                filled.result,
                allowance,
                kind_key=kind.key,
            )
        )
    count = ContainerCount(
        kind=kind,
        share=part.share,
        filled=int(filled.result.amount),
        to_bring=int(lines[-1].result.amount),
    )
    return count, lines
