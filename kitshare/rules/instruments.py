"""What a test instrument showed, as people type it: a number with or without its unit, or "more than" one.

A unit of another quantity or of another size is refused, not converted: a slip between milli and mega is a factor of a
thousand million.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """What is read or looked at. The trip switch is timed at its rated current and at five times it."""

    VISUAL = "visual"
    EARTH = "earth"
    INSULATION = "insulation"
    LEAKAGE = "leakage"
    TRIP_HALF = "trip_half"
    TRIP_RATED = "trip_rated"
    TRIP_FIVE = "trip_five"
    GUARD = "guard"
    INTERLOCK = "interlock"


class Unit(StrEnum):
    """The unit of each kind of reading, as it is shown."""

    OHM = "Ω"
    MEGOHM = "MΩ"
    MILLIAMP = "mA"
    MILLISECOND = "ms"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """The unit of a kind, and between which values a reading can be believed, failed ones among them."""

    unit: Unit
    least: Decimal
    most: Decimal


# The bounds are ours: what an instrument of the trade can show.
MEASURED: Final[Mapping[Kind, Measure]] = {
    Kind.EARTH: Measure(unit=Unit.OHM, least=Decimal(0), most=Decimal(20_000)),
    Kind.INSULATION: Measure(unit=Unit.MEGOHM, least=Decimal(0), most=Decimal(100_000)),
    Kind.LEAKAGE: Measure(unit=Unit.MILLIAMP, least=Decimal(0), most=Decimal(1000)),
    Kind.TRIP_RATED: Measure(unit=Unit.MILLISECOND, least=Decimal("0.1"), most=Decimal(10_000)),
    Kind.TRIP_FIVE: Measure(unit=Unit.MILLISECOND, least=Decimal("0.1"), most=Decimal(10_000)),
}

# Case tells milli from mega, so it is kept. Both signs for ohm are in use: the unit and the Greek letter.
_SPELLINGS: Final[Mapping[Unit, frozenset[str]]] = {
    Unit.OHM: frozenset({"Ω", "ohm", "ohms", "Ohm", "Ohms", "R"}),
    Unit.MEGOHM: frozenset({"MΩ", "Mohm", "Mohms", "MOhm", "MOhms", "megohm", "megohms"}),
    Unit.MILLIAMP: frozenset({"mA", "milliamp", "milliamps"}),
    Unit.MILLISECOND: frozenset({"ms", "msec", "milliseconds"}),
}
_FIGURE: Final = re.compile(r"([<>]?)([0-9]{1,9}(?:[.,][0-9]{1,6})?)([^0-9.,<>]*)")
_MAYBE_THOUSANDS: Final = re.compile(r"[1-9][0-9]*,[0-9]{3}")
LONGEST_TEXT: Final = 40


class Bound(StrEnum):
    """Whether the instrument showed the value, or that it lies beyond it."""

    EXACT = "exact"
    MORE = "more"
    LESS = "less"


class Problem(StrEnum):
    """Why a reading cannot be taken so."""

    NO_FIGURE = "no_figure"
    UNCLEAR_COMMA = "unclear_comma"
    WRONG_UNIT = "wrong_unit"
    OUT_OF_RANGE = "out_of_range"
    TELLS_NOTHING = "tells_nothing"
    HAS_NO_EARTH = "has_no_earth"
    LEAD_NOT_SAID = "lead_not_said"


class ReadingRefused(ValueError):
    """A reading of a kind cannot be taken so. Of `unit`, `value` and `limit` those are set that the problem has."""

    def __init__(
        self,
        problem: Problem,
        *,
        kind: Kind,
        unit: str = "",
        value: Decimal | None = None,
        limit: Decimal | None = None,
    ) -> None:
        super().__init__(f"{kind}: {problem}")
        self.problem = problem
        self.kind = kind
        self.unit = unit
        self.value = value
        self.limit = limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A value in the unit of its kind; beyond it where the instrument could show no more or no less."""

    value: Decimal
    bound: Bound = Bound.EXACT


def figure(text: str, kind: Kind) -> Figure:
    """Read what somebody typed of a measured kind: `0,12`, `0.12 Ω`, `>200 MΩ`. Raises `ReadingRefused`.

    A trip switch that never tripped is more than the time that one waited: `>300`.
    """
    measure = MEASURED[kind]
    written = "".join(text.split()).replace("\N{OHM SIGN}", "Ω")
    found = _FIGURE.fullmatch(written) if len(text) <= LONGEST_TEXT else None
    if found is None:
        raise ReadingRefused(Problem.NO_FIGURE, kind=kind)
    sign, number, unit = found.groups()
    if _MAYBE_THOUSANDS.fullmatch(number):
        raise ReadingRefused(Problem.UNCLEAR_COMMA, kind=kind)
    if unit and unit not in _SPELLINGS[measure.unit]:
        raise ReadingRefused(Problem.WRONG_UNIT, kind=kind, unit=unit)
    value = Decimal(number.replace(",", "."))
    if not measure.least <= value <= measure.most:
        raise ReadingRefused(Problem.OUT_OF_RANGE, kind=kind, value=value)
    return Figure(value=value, bound={"": Bound.EXACT, ">": Bound.MORE, "<": Bound.LESS}[sign])
