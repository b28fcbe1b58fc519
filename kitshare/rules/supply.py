"""Supply for the day: what one socket, its protective device and the leads in line are asked to carry.

It adds up and compares. That no warning comes is no word that a supply is sound: wiring, plugs, wet ground and local
rules are for a competent person to look at.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from kitshare.rules.electrics import RuleSet
from kitshare.rules.leads import LONGEST_WITHOUT_TRIP_SWITCH_M, Lead
from kitshare.rules.sizing_terms import OutOfRange

# Lost on the way, in the hundred, before it is said: BS 7671, quoted. A motor starts badly and runs hot below that.
MOST_LOST_PERCENT: Final = Decimal(5)
# What a drum typically carries; from memory, and its own label comes first. Wound up it cannot shed its heat.
DRUM_AMPS_UNWOUND, DRUM_AMPS_WOUND = Decimal(13), Decimal(5)
# Second figures of an IP code that are proof against jets of water; 7 is dipping, which does not cover jets (IEC 60529,
# quoted).
PROOF_AGAINST_JETS: Final = frozenset({5, 6})
TRIP_SWITCH_MA: Final = 30


class Warn(StrEnum):
    """What is to be said before the day, each with the figures of its `Caveat`."""

    POWER_UNKNOWN = "power_unknown"
    RECKONED_FROM_WATTS = "reckoned_from_watts"
    OVER_SOCKET = "over_socket"
    OVER_PROTECTION = "over_protection"
    OVER_DRUM_UNWOUND = "over_drum_unwound"
    OVER_DRUM_WOUND = "over_drum_wound"
    DRUM_WOUND = "drum_wound"
    VOLTS_LOST = "volts_lost"
    NO_TRIP_SWITCH = "no_trip_switch"
    TRIP_SWITCH_COARSE = "trip_switch_coarse"
    LONG_WITHOUT_TRIP_SWITCH = "long_without_trip_switch"
    NOT_PROOF_AGAINST_JETS = "not_proof_against_jets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caveat:
    """A warning, what it is about, and the two figures that it compares where it has any."""

    code: Warn
    about: str = ""
    found: Decimal | None = None
    limit: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A machine that runs: its amperes by the plate (0 to 1000), or else its watts (0 to 100,000), or neither.

    Raises `OutOfRange`.
    """

    name: str
    amps: Decimal | None = None
    watts: Decimal | None = None

    def __post_init__(self) -> None:
        """Refuse what no plate says."""
        for field, value, most in (("amps", self.amps, Decimal(1000)), ("watts", self.watts, Decimal(100_000))):
            if value is not None:
                _require(field, value, Decimal(0), most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drum:
    """A lead on a drum, with what its label says that it carries, 0.1 to 125 A. Raises `OutOfRange`."""

    is_wound: bool
    amps_unwound: Decimal = DRUM_AMPS_UNWOUND
    amps_wound: Decimal = DRUM_AMPS_WOUND

    def __post_init__(self) -> None:
        """Refuse what no label says."""
        for field in ("amps_unwound", "amps_wound"):
            _require(field, getattr(self, field), Decimal("0.1"), Decimal(125))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadInLine:
    """One lead of a line. `ip_second` is the second figure of the IP code of its sockets, None where nobody knows."""

    name: str
    lead: Lead
    drum: Drum | None = None
    ip_second: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Socket:
    """A socket: amperes that it and its protective device carry (1 to 125), volts (100 to 250), its trip switch.

    `trip_ma` is the rated current of a trip switch in milliamperes, None where there is none. Raises `OutOfRange`.
    """

    amps: Decimal
    protection_amps: Decimal
    volts: Decimal = Decimal(230)
    trip_ma: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no house has."""
        _require("amps", self.amps, Decimal(1), Decimal(125))
        _require("protection_amps", self.protection_amps, Decimal(1), Decimal(125))
        _require("volts", self.volts, Decimal(100), Decimal(250))


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The machines that run at once from one socket, over leads joined end to end. `hoses` says that water is about."""

    socket: Socket
    loads: tuple[Load, ...]
    leads: tuple[LeadInLine, ...] = ()
    hoses: bool = True
    rules: RuleSet | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What a line carries while every machine of it runs, what it loses on the way, and what is to be said."""

    amps: Decimal
    volts_lost: Decimal
    percent_lost: Decimal
    warnings: tuple[Caveat, ...]


def supply(line: Line) -> Supply:
    """Add up the running currents of a line and compare them with what carries them.

    Each lead is taken to carry all of it, which errs to the careful side. A motor draws several times as much for a
    moment as it starts. Raises `OutOfRange`.
    """
    amps = sum((_amps(load, line.socket.volts) for load in line.loads), Decimal(0))
    lost = sum((each.lead.volts_lost(amps) for each in line.leads), Decimal(0))
    percent = lost / line.socket.volts * 100
    warnings = [*_of_loads(line.loads), *_of_socket(amps, line.socket)]
    for each in line.leads:
        warnings += _of_drum(amps, each)
    if percent > MOST_LOST_PERCENT:
        warnings.append(Caveat(code=Warn.VOLTS_LOST, found=percent, limit=MOST_LOST_PERCENT))
    warnings += _of_trip_switch(line)
    if line.hoses:
        warnings += [
            Caveat(code=Warn.NOT_PROOF_AGAINST_JETS, about=each.name)
            for each in line.leads
            if each.ip_second not in PROOF_AGAINST_JETS
        ]
    return Supply(amps=amps, volts_lost=lost, percent_lost=percent, warnings=tuple(warnings))


def _amps(load: Load, volts: Decimal) -> Decimal:
    if load.amps is not None:
        return load.amps
    return (load.watts or Decimal(0)) / volts


def _of_loads(loads: Sequence[Load]) -> list[Caveat]:
    return [
        Caveat(code=Warn.POWER_UNKNOWN if load.watts is None else Warn.RECKONED_FROM_WATTS, about=load.name)
        for load in loads
        if load.amps is None
    ]


def _of_socket(amps: Decimal, socket: Socket) -> list[Caveat]:
    pairs = ((Warn.OVER_SOCKET, socket.amps), (Warn.OVER_PROTECTION, socket.protection_amps))
    return [Caveat(code=code, found=amps, limit=limit) for code, limit in pairs if amps > limit]


def _of_drum(amps: Decimal, each: LeadInLine) -> list[Caveat]:
    drum = each.drum
    if drum is None:
        return []
    if amps > drum.amps_unwound:
        over = [Caveat(code=Warn.OVER_DRUM_UNWOUND, about=each.name, found=amps, limit=drum.amps_unwound)]
        return over + ([Caveat(code=Warn.DRUM_WOUND, about=each.name)] if drum.is_wound else [])
    if not drum.is_wound:
        return []
    code = Warn.OVER_DRUM_WOUND if amps > drum.amps_wound else Warn.DRUM_WOUND
    return [Caveat(code=code, about=each.name, found=amps, limit=drum.amps_wound)]


def _of_trip_switch(line: Line) -> list[Caveat]:
    trip_ma = line.socket.trip_ma
    if trip_ma is not None:
        coarse = Caveat(code=Warn.TRIP_SWITCH_COARSE, found=Decimal(trip_ma), limit=Decimal(TRIP_SWITCH_MA))
        return [coarse] if trip_ma > TRIP_SWITCH_MA else []
    warnings = [Caveat(code=Warn.NO_TRIP_SWITCH)]
    known = [mm2 for each in line.leads if (mm2 := each.lead.mm2) in LONGEST_WITHOUT_TRIP_SWITCH_M]
    if line.rules is RuleSet.UNITED_KINGDOM and known:
        longest = LONGEST_WITHOUT_TRIP_SWITCH_M[min(known)]
        length = sum((each.lead.length_m for each in line.leads), Decimal(0))
        if length > longest:
            warnings.append(Caveat(code=Warn.LONG_WITHOUT_TRIP_SWITCH, found=length, limit=longest))
    return warnings


def _require(field: str, value: Decimal, low: Decimal, high: Decimal) -> None:
    if not value.is_finite() or not low <= value <= high:
        raise OutOfRange(field=field, value=value, bounds=(low, high))
