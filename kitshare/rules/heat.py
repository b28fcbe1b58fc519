"""What heat did to the juice: a log of the probe, and the killing power it adds up to.

This is the second of two verdicts. The first, whether the juice was held as recommended, is in
`heat_verdict`. Neither stands in for the other: five logs of a bacterium are reached in seconds
that do not keep juice for a week.
"""

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from math import expm1, isfinite, log
from operator import ge, sub

LEAST_COUNTED_C = 50.0
"""Below this nothing is counted: the rule of a factor of ten in seven degrees is doubtful there
(standard practice).
"""

DEFAULT_LONGEST_GAP_MINUTES = 5.0
"""Readings further apart than this say nothing of the time between (common practice, no source)."""


class LogUnusable(ValueError):
    """The minutes of a log do not rise, or a number in it is not finite, or the two columns differ
    in length.
    """


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatLog:
    """Readings of one probe, as two columns of the same length because a logger may write 200,000
    rows.

    `minutes` rise strictly, from any origin; `celsius` are the temperatures then. Raises
    `LogUnusable`.
    """

    minutes: tuple[float, ...]
    celsius: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what the rules below could only misread."""
        if len(self.minutes) != len(self.celsius):
            raise LogUnusable("each reading needs one time and one temperature")
        if not (all(map(isfinite, self.minutes)) and all(map(isfinite, self.celsius))):
            raise LogUnusable("a time or a temperature is not a finite number")
        if any(map(ge, self.minutes, self.minutes[1:])):
            raise LogUnusable("times do not rise from reading to reading")

    def pauses(self, longest_gap_minutes: float) -> bytes:
        """For each reading but the last: 1 where the next is further away than the gap allowed, else 0."""
        longer_than = (float(longest_gap_minutes) + 1e-9).__lt__
        return bytes(map(longer_than, map(sub, self.minutes[1:], self.minutes)))


class Organism(StrEnum):
    """What heat is asked to kill. Listeria is left out: it survived what killed five logs of the
    second.
    """

    CRYPTOSPORIDIUM = "cryptosporidium"
    E_COLI_O157 = "e_coli_o157"


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """How an organism dies: `d_seconds` at `reference_c` for each log, `z_c` kelvin for each factor
    of ten in time.
    """

    d_seconds: float
    reference_c: float
    z_c: float
    highest_ph: float
    source: str


RESISTANCES = {
    Organism.CRYPTOSPORIDIUM: Resistance(
        d_seconds=1.2,
        reference_c=71.1,
        z_c=8.5,
        highest_ph=4.0,
        source="FDA, Juice hazards and controls guidance (quoted): 6 s at 71.1 C, pH 4.0 or less",
    ),
    Organism.E_COLI_O157: Resistance(
        d_seconds=0.6,
        reference_c=71.1,
        z_c=5.3,
        highest_ph=4.0,
        source="Mazzotta, J Food Prot 64:315, 2001, worst case: five logs in 3 s at 71.1 C",
    ),
}

PU_REFERENCE_C, PU_Z_C = 60.0, 7.0
SPORE_REFERENCE_C, SPORE_Z_C = 80.0, 10.0
PU_WANTED_LOW, PU_WANTED_HIGH = 500.0, 1000.0
"""Pasteurisation units that cloudy apple juice wants, low and high (A. Lea, cider makers' forum,
2012).
"""

HEAT_DOES_NOT_CLEAR = ("moulds", "patulin")
"""What no hold at these temperatures removes (Sant'Ana et al., J Appl Microbiol, 2009): rotten
fruit stays out.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lethality:
    """Killing power of a whole log, heating up and cooling included, unread gaps excluded.

    `pu_60_7` and `spore_80_10` are equivalent minutes at 60 C (z 7 C) and 80 C (z 10 C). `logs` are
    powers of ten; past a dozen they only say "more than anybody has measured". `covered` is False
    where the pH, if given, is over that of the source.
    """

    pu_60_7: float
    spore_80_10: float
    logs: dict[Organism, float]
    covered: bool


def rate(celsius: float, *, reference_c: float = PU_REFERENCE_C, z_c: float = PU_Z_C) -> float:
    """Equivalent minutes at the reference gained in one minute: 10 ** ((T - reference) / z)."""
    return float(10.0 ** ((celsius - reference_c) / z_c))


def _counted(minutes: float, first_c: float, last_c: float) -> tuple[float, float, float]:
    """Cut a stretch down to the part of it that is not below `LEAST_COUNTED_C`."""
    hot = max(first_c, last_c)
    if hot < LEAST_COUNTED_C:
        return 0.0, LEAST_COUNTED_C, LEAST_COUNTED_C
    if min(first_c, last_c) >= LEAST_COUNTED_C:
        return minutes, first_c, last_c
    share = (hot - LEAST_COUNTED_C) / abs(last_c - first_c)
    return minutes * share, LEAST_COUNTED_C, hot


def ramp_minutes(
    minutes: float,
    first_c: float,
    last_c: float,
    *,
    reference_c: float = PU_REFERENCE_C,
    z_c: float = PU_Z_C,
) -> float:
    """Equivalent minutes at the reference of a straight rise or fall between two temperatures.

    Exact: the integral of 10 ** ((T - reference) / z) along a line is
    dt * z * (L2 - L1) / (ln 10 * (T2 - T1)), here written with expm1 so that a level stretch is no
    special case. The part below `LEAST_COUNTED_C` is left out. The trapezoid on the rates would
    over-count, because the rate is convex.
    """
    counted, first, last = _counted(minutes, first_c, last_c)
    x = log(10) * (last - first) / z_c
    mean_over_first = expm1(x) / x if x else 1.0
    return float(counted * 10.0 ** ((first - reference_c) / z_c) * mean_over_first)


NEARLY_LEVEL_K = 1e-6
"""Under this the difference of two rates has lost its digits, and their mean has lost none."""


def _weights(heat_log: HeatLog, pauses: bytes) -> tuple[dict[float, float], dict[float, float]]:
    """What each temperature of a log weighs in its sum at any reference, for stretches that rise or fall and for level
    ones: a log may have 200,000 readings, and a logger writes tenths of a degree.

    A stretch from T1 to T2 adds dt / (T2 - T1) times the difference of two rates (see `ramp_minutes`), a level one dt
    times its rate. Rates are taken at no less than `LEAST_COUNTED_C`, so that what lies below it differs by nothing.
    """
    minutes, celsius = heat_log.minutes, heat_log.celsius
    read = map(sub, minutes[1:], minutes)
    steep: defaultdict[float, float] = defaultdict(float)
    level: defaultdict[float, float] = defaultdict(float)
    before = 0.0  # the weight of the stretch before, which ends where this one begins: one sum for both
    for minute, first, last, is_pause in zip(read, celsius, celsius[1:], pauses, strict=False):
        if is_pause or (first < LEAST_COUNTED_C and last < LEAST_COUNTED_C):
            weight = 0.0
        elif abs(last - first) >= NEARLY_LEVEL_K or first < LEAST_COUNTED_C or last < LEAST_COUNTED_C:
            weight = minute / (last - first)
        else:
            weight = 0.0
            level[first] += minute / 2
            level[last] += minute / 2
        if weight != before:
            steep[first if first > LEAST_COUNTED_C else LEAST_COUNTED_C] += before - weight
            before = weight
    if before:
        steep[max(celsius[-1], LEAST_COUNTED_C)] += before
    return steep, level


def _weighed(weights: tuple[dict[float, float], dict[float, float]], reference_c: float, z_c: float) -> float:
    """Equivalent minutes at a reference."""
    steep, level = (
        sum(weight * 10.0 ** ((c - reference_c) / z_c) for c, weight in by_celsius.items()) for by_celsius in weights
    )
    return float(steep * z_c / log(10) + level)


def equivalent_minutes(
    heat_log: HeatLog,
    *,
    reference_c: float = PU_REFERENCE_C,
    z_c: float = PU_Z_C,
    longest_gap_minutes: float = DEFAULT_LONGEST_GAP_MINUTES,
) -> float:
    """Equivalent minutes at the reference over a log, with straight lines between readings.

    Stretches longer than the gap allowed are not counted.
    """
    return _weighed(_weights(heat_log, heat_log.pauses(longest_gap_minutes)), reference_c, z_c)


def pasteurisation_units(heat_log: HeatLog, *, longest_gap_minutes: float = DEFAULT_LONGEST_GAP_MINUTES) -> float:
    """PU of a log: minutes at 60 C with z = 7 C (the definition for beer, used for juice too)."""
    return equivalent_minutes(heat_log, longest_gap_minutes=longest_gap_minutes)


def lethality(
    heat_log: HeatLog,
    *,
    ph: float | None = None,
    longest_gap_minutes: float = DEFAULT_LONGEST_GAP_MINUTES,
    pauses: bytes | None = None,
) -> Lethality:
    """Work out everything that the log's heat adds up to. `pauses` are those of the gap allowed, where they are known.

    A pH over 4.0 leaves the organisms' sources behind, and `covered` says so.
    """
    pauses = heat_log.pauses(longest_gap_minutes) if pauses is None else pauses
    minutes_at = partial(_weighed, _weights(heat_log, pauses))
    return Lethality(
        pu_60_7=minutes_at(PU_REFERENCE_C, PU_Z_C),
        spore_80_10=minutes_at(SPORE_REFERENCE_C, SPORE_Z_C),
        logs={organism: minutes_at(r.reference_c, r.z_c) * 60 / r.d_seconds for organism, r in RESISTANCES.items()},
        covered=ph is None or all(ph <= r.highest_ph for r in RESISTANCES.values()),
    )
