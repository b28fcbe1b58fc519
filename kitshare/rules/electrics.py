"""Readings of an electrical safety test, each against the limit of one country's rules.

A verdict says how a reading compares with a limit, and never more: whether a machine may be used is for a competent
person under local rules. Every limit here is quoted: seen in texts that name the standard, not in the standard itself.
Check it against the edition in force. Rules of two countries are never mixed: a figure that one does not give is no
limit there, and its readings are kept unjudged.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum
from typing import Final

from kitshare.rules.instruments import MEASURED, Bound, Figure, Kind, Problem, ReadingRefused, Unit
from kitshare.rules.leads import Lead

OHM, MEGOHM, MILLIAMP, MILLISECOND = Unit.OHM, Unit.MEGOHM, Unit.MILLIAMP, Unit.MILLISECOND


class RuleSet(StrEnum):
    """Whose limits a test is judged by."""

    UNITED_KINGDOM = "uk"
    GERMANY = "de"


class Source(StrEnum):
    """Where a limit is said to stand. All are quoted."""

    IET = "IET code of practice for in-service inspection and testing"
    VDE = "DIN VDE 0701-0702"
    EN_TRIP_SWITCHES = "EN 61008 and EN 61009"
    BS_7288 = "BS 7288"


class Protection(StrEnum):
    """How a machine keeps people from a shock: by its earth, by double insulation, by low voltage."""

    CLASS_I = "I"
    CLASS_II = "II"
    CLASS_III = "III"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What limits depend on. `heating_kw` is 0 where nothing in it heats; `lead` is needed for an earth reading alone.

    `portable_switch` says that the trip switch is one that travels, not one in the board of a building.
    """

    protection: Protection
    hand_held: bool = False
    heating_kw: Decimal = Decimal(0)
    lead: Lead | None = None
    portable_switch: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """`at_most` or, where it is not, at least this value; a reading that equals it is within."""

    value: Decimal
    unit: Unit
    source: Source
    at_most: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a reading is within its limit; None where the rules chosen give none."""

    within: bool | None
    limit: Limit | None = None
    at_limit: bool = False


def judge(figure: Figure, *, kind: Kind, rules: RuleSet | None, machine: Machine) -> Verdict:
    """Compare what an instrument showed with the limit of its kind. Raises `ReadingRefused`.

    "More than 200" meets "at least 1" and misses "at most 40"; where such a figure could be either, it is refused.
    """
    check_makes_sense(kind, machine)
    limit = limit_of(kind, rules=rules, machine=machine)
    if limit is None:
        return Verdict(within=None)
    over, under = figure.value > limit.value, figure.value < limit.value
    if figure.bound is Bound.EXACT:
        within = not over if limit.at_most else not under
        return Verdict(within=within, limit=limit, at_limit=not (over or under))
    tells = not under if figure.bound is Bound.MORE else not over
    if not tells:
        raise ReadingRefused(Problem.TELLS_NOTHING, kind=kind, value=figure.value, limit=limit.value)
    return Verdict(within=limit.at_most is (figure.bound is Bound.LESS), limit=limit)


def seen(as_it_should_be: bool) -> Verdict:
    """What was looked at or tried and has no figure: visual, guard, interlock, no trip at half the rated current."""
    return Verdict(within=as_it_should_be)


def check_makes_sense(kind: Kind, machine: Machine) -> None:
    """Refuse an earth reading of a machine that has none, or whose lead nobody described. Raises `ReadingRefused`."""
    if kind is not Kind.EARTH:
        return
    if machine.protection is not Protection.CLASS_I:
        raise ReadingRefused(Problem.HAS_NO_EARTH, kind=kind)
    if machine.lead is None:
        raise ReadingRefused(Problem.LEAD_NOT_SAID, kind=kind)


def limit_of(kind: Kind, *, rules: RuleSet | None, machine: Machine) -> Limit | None:
    """The limit of a kind of reading by the rules chosen, or None where they give none or none are chosen."""
    if rules is None or kind not in MEASURED:
        return None
    check_makes_sense(kind, machine)
    return _LIMITS[rules][kind](machine)


def uk_earth(lead: Lead) -> Decimal:
    """0.1 ohm and what the lead's own conductor has (IET code of practice, quoted)."""
    return Decimal("0.1") + lead.ohm


def german_earth(length_m: Decimal) -> Decimal:
    """0.3 ohm to 5 m and 0.1 more for each further 7.5 m begun, 1 ohm at the most (DIN VDE 0701-0702, quoted).

    For leads rated up to 16 A; the limit of a thicker one is worked out from its conductor by the person who tests.
    """
    begun = max(Decimal(0), (length_m - 5) / Decimal("7.5")).to_integral_value(rounding=ROUND_CEILING)
    return min(Decimal(1), Decimal("0.3") + Decimal("0.1") * begun)


def _uk_earth(machine: Machine) -> Limit | None:
    return Limit(value=uk_earth(machine.lead), unit=OHM, source=Source.IET) if machine.lead else None


def _german_earth(machine: Machine) -> Limit | None:
    return Limit(value=german_earth(machine.lead.length_m), unit=OHM, source=Source.VDE) if machine.lead else None


_INSULATION: Final[Mapping[Protection, Decimal]] = {
    Protection.CLASS_I: Decimal(1),
    Protection.CLASS_II: Decimal(2),
    Protection.CLASS_III: Decimal("0.25"),
}
# At 500 V. In class I with something that heats, which holds damp when cold.
HEATER_MEGOHM: Final = Decimal("0.3")


def _uk_insulation(machine: Machine) -> Limit:
    """The lower figure is for heaters under 3 kW (quoted)."""
    heats = machine.protection is Protection.CLASS_I and 0 < machine.heating_kw < 3
    value = HEATER_MEGOHM if heats else _INSULATION[machine.protection]
    return Limit(value=value, unit=MEGOHM, source=Source.IET, at_most=False)


def _german_insulation(machine: Machine) -> Limit:
    """The lower figure is for any machine with something that heats (quoted in manuals of test instruments)."""
    heats = machine.protection is Protection.CLASS_I and machine.heating_kw > 0
    value = HEATER_MEGOHM if heats else _INSULATION[machine.protection]
    return Limit(value=value, unit=MEGOHM, source=Source.VDE, at_most=False)


def _uk_leakage(machine: Machine) -> Limit | None:
    if machine.protection is Protection.CLASS_III:
        return None
    class_i = Decimal("0.75") if machine.hand_held else Decimal("3.5")
    value = class_i if machine.protection is Protection.CLASS_I else Decimal("0.25")
    return Limit(value=value, unit=MILLIAMP, source=Source.IET)


def _german_leakage(machine: Machine) -> Limit | None:
    """In the earth conductor 3.5 mA, with heaters over 3.5 kW 1 mA for each kilowatt and 10 at the most; in class II
    the current of touch, 0.5 mA (quoted in manuals of test instruments).
    """
    if machine.protection is Protection.CLASS_III:
        return None
    value = Decimal("0.5")
    if machine.protection is Protection.CLASS_I:
        by_power = min(Decimal(10), machine.heating_kw)
        value = by_power if machine.heating_kw > Decimal("3.5") else Decimal("3.5")
    return Limit(value=value, unit=MILLIAMP, source=Source.VDE)


def _uk_trip_rated(machine: Machine) -> Limit:
    value, source = (200, Source.BS_7288) if machine.portable_switch else (300, Source.EN_TRIP_SWITCHES)
    return Limit(value=Decimal(value), unit=MILLISECOND, source=source)


def _uk_trip_five(machine: Machine) -> Limit:
    source = Source.BS_7288 if machine.portable_switch else Source.EN_TRIP_SWITCHES
    return Limit(value=Decimal(40), unit=MILLISECOND, source=source)


def _german_trip(milliseconds: int) -> Callable[[Machine], Limit | None]:
    """Of a switch in a board. What a portable one must do there, no text seen says: it is kept unjudged."""

    def limit(machine: Machine) -> Limit | None:
        if machine.portable_switch:
            return None
        return Limit(value=Decimal(milliseconds), unit=MILLISECOND, source=Source.EN_TRIP_SWITCHES)

    return limit


_LIMITS: Final[Mapping[RuleSet, Mapping[Kind, Callable[[Machine], Limit | None]]]] = {
    RuleSet.UNITED_KINGDOM: {
        Kind.EARTH: _uk_earth,
        Kind.INSULATION: _uk_insulation,
        Kind.LEAKAGE: _uk_leakage,
        Kind.TRIP_RATED: _uk_trip_rated,
        Kind.TRIP_FIVE: _uk_trip_five,
    },
    RuleSet.GERMANY: {
        Kind.EARTH: _german_earth,
        Kind.INSULATION: _german_insulation,
        Kind.LEAKAGE: _german_leakage,
        Kind.TRIP_RATED: _german_trip(300),
        Kind.TRIP_FIVE: _german_trip(40),
    },
}
