"""Whether the juice was held hot as recommended: the first of two verdicts, and the reasons with
their numbers.

A verdict never improves when a reading falls, and it never says that a juice is good to drink: it
says what the probe showed against what a named source recommends. Reasons are codes and numbers;
pages put them into words.
"""

from dataclasses import dataclass
from enum import StrEnum

from kitshare.rules.heat import DEFAULT_LONGEST_GAP_MINUTES, HeatLog, Lethality, lethality
from kitshare.rules.probes import UNCHECKED, Correction
from kitshare.rules.water import require_between

HIGHEST_PH = 4.0
CAUTION_PH = 3.5
TOLERANCE = 1e-6
"""Minutes and degrees lost in the arithmetic of a boundary case, not in the juice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """A hold: this temperature at the centre of the coldest bottle, for this long from the moment
    it is reached.
    """

    target_c: float
    hold_minutes: float
    source: str

    def __post_init__(self) -> None:
        """Refuse a target outside 50 to 100 C and a hold outside 0 to 24 hours, with `OutOfRange`."""
        require_between("target_c", self.target_c, 50.0, 100.0)
        require_between("hold_minutes", self.hold_minutes, 1 / 60, 1440.0)


DEFAULT_RECOMMENDATION = Recommendation(target_c=75.0, hold_minutes=20.0, source="common practice, no source")
OTHER_RECOMMENDATIONS = (
    Recommendation(target_c=72.0, hold_minutes=20.0, source="German handbook on keeping juice, 2007"),
    Recommendation(target_c=77.0, hold_minutes=30.0, source="cider makers' site"),
    Recommendation(
        target_c=80.0,
        hold_minutes=10.0,
        source="Practical Action, Fruit juice processing, table 1, 0.33 L",
    ),
    Recommendation(
        target_c=80.0,
        hold_minutes=15.0,
        source="Practical Action, Fruit juice processing, table 1, 0.5 L",
    ),
    Recommendation(
        target_c=80.0,
        hold_minutes=20.0,
        source="Practical Action, Fruit juice processing, table 1, 0.75 L",
    ),
)


class Verdict(StrEnum):
    """The two things that a log can show about the hold."""

    HELD = "held"
    NOT_SHOWN = "not_shown"


class ReasonCode(StrEnum):
    """Why a hold is not shown, or what must be said beside one that is."""

    TOO_FEW_READINGS = "too_few_readings"
    NEVER_REACHED = "never_reached"
    HOLD_TOO_SHORT = "hold_too_short"
    GAP_IN_READINGS = "gap_in_readings"
    PH_OVER_TABLES = "ph_over_tables"
    PH_CAUTION = "ph_caution"
    PH_NOT_MEASURED = "ph_not_measured"
    PROBE_NEVER_CHECKED = "probe_never_checked"
    PROBE_CHECK_OLD = "probe_check_old"
    PROBE_ONE_POINT = "probe_checked_at_one_point"
    PROBE_OFF = "probe_off_by_more_than_one_degree"


STOPPING = frozenset(
    {
        ReasonCode.TOO_FEW_READINGS,
        ReasonCode.NEVER_REACHED,
        ReasonCode.HOLD_TOO_SHORT,
        ReasonCode.GAP_IN_READINGS,
        ReasonCode.PH_OVER_TABLES,
    }
)
"""Reasons that stop a log from showing a hold; the others stand beside either verdict."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A code with what was seen and what was wanted, in the unit that the code implies (minutes,
    degrees, pH).
    """

    code: ReasonCode
    seen: float | None = None
    wanted: float | None = None

    @property
    def stops(self) -> bool:
        """Whether this alone keeps the verdict from being `held`."""
        return self.code in STOPPING


class Remedy(StrEnum):
    """What one can do now."""

    HEAT_AGAIN = "heat_again_for_the_full_hold"
    KEEP_COLD_AND_DRINK_SOON = "keep_cold_and_drink_soon"
    FREEZE = "freeze"
    READ_MORE_OFTEN = "read_more_often"
    CHECK_PROBE = "check_probe_in_ice_and_boiling_water"
    MEASURE_PH = "measure_ph"
    ASK_FOOD_ADVICE = "ask_food_advice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """An unbroken stretch at or over the target, in minutes of the log's own clock, with its
    coldest reading.
    """

    start: float
    end: float
    lowest_c: float

    @property
    def minutes(self) -> float:
        """Its length."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatVerdict:
    """Both verdicts on one log. `reached_at` is the first moment at the target, from the first
    reading, in minutes.

    `longest` is the longest unbroken hold, its times also from the first reading. `gaps` counts the
    pauses longer than the gap allowed. `lethality` stands beside the verdict and never changes it.
    """

    verdict: Verdict
    reasons: tuple[Reason, ...]
    remedies: tuple[Remedy, ...]
    recommendation: Recommendation
    reached_at: float | None
    longest: Hold | None
    highest_c: float | None
    gaps: int
    lethality: Lethality


def holds(heat_log: HeatLog, *, target_c: float, longest_gap_minutes: float) -> tuple[Hold, ...]:
    """Every unbroken stretch at or over the target, straight lines between readings, broken by gaps
    in the readings.

    A crossing inside a gap is not interpolated: the hold then starts, or ends, at a reading.
    """
    return _holds(heat_log, target_c, heat_log.pauses(longest_gap_minutes), _hot(heat_log, target_c))


def _holds(heat_log: HeatLog, target_c: float, pauses: bytes, hot: bytes) -> tuple[Hold, ...]:
    minutes, celsius, count = heat_log.minutes, heat_log.celsius, len(heat_log.minutes)
    found: list[Hold] = []
    first = hot.find(1)
    while 0 <= first < count:
        pause = pauses.find(1, first)
        segment_end = count - 1 if pause < 0 else pause  # the last reading before a pause
        cold = hot.find(0, first)
        last = segment_end if cold < 0 else min(cold - 1, segment_end)
        is_entered = first > 0 and not pauses[first - 1]
        is_left = last < segment_end
        if is_entered or is_left or last > first:
            start = _crossing(heat_log, first - 1, target_c) if is_entered and not hot[first - 1] else minutes[first]
            end = _crossing(heat_log, last, target_c) if is_left else minutes[last]
            found.append(Hold(start=start, end=end, lowest_c=min(celsius[first : last + 1])))
        first = hot.find(1, last + 1)
    return tuple(found)


def _hot(heat_log: HeatLog, target_c: float) -> bytes:
    """For each reading: 1 where it is at or over the target, else 0."""
    return bytes(map((target_c - TOLERANCE).__le__, heat_log.celsius))


def _crossing(heat_log: HeatLog, at: int, target_c: float) -> float:
    """When the straight line from a reading to the next is at the target."""
    (begin, finish), (first, last) = heat_log.minutes[at : at + 2], heat_log.celsius[at : at + 2]
    return begin + (finish - begin) * min(1.0, max(0.0, (target_c - first) / (last - first)))


def _first_reached(heat_log: HeatLog, found: tuple[Hold, ...], hot: bytes) -> float | None:
    # A lone hot reading between two gaps starts no hold, and yet the target was reached then.
    lone = hot.find(1)
    starts = [heat_log.minutes[lone]] if lone >= 0 else []
    starts += [found[0].start] if found else []
    return min(starts) - heat_log.minutes[0] if starts else None


def _ph_reasons(ph: float | None) -> list[Reason]:
    if ph is None:
        return [Reason(code=ReasonCode.PH_NOT_MEASURED, wanted=HIGHEST_PH)]
    require_between("ph", ph, 0.0, 14.0)
    if ph > HIGHEST_PH:
        return [Reason(code=ReasonCode.PH_OVER_TABLES, seen=ph, wanted=HIGHEST_PH)]
    return [Reason(code=ReasonCode.PH_CAUTION, seen=ph, wanted=CAUTION_PH)] if ph >= CAUTION_PH else []


def _hold_reasons(
    heat_log: HeatLog, longest: Hold | None, wanted: Recommendation, longest_gap_minutes: float
) -> list[Reason]:
    if len(heat_log.minutes) < 2:
        return [Reason(code=ReasonCode.TOO_FEW_READINGS, seen=float(len(heat_log.minutes)), wanted=2.0)]
    highest = max(heat_log.celsius)
    if highest < wanted.target_c - TOLERANCE:
        return [Reason(code=ReasonCode.NEVER_REACHED, seen=highest, wanted=wanted.target_c)]
    held = longest.minutes if longest else 0.0
    if held >= wanted.hold_minutes - TOLERANCE:
        return []
    reasons = [Reason(code=ReasonCode.HOLD_TOO_SHORT, seen=held, wanted=wanted.hold_minutes)]
    bridged = holds(heat_log, target_c=wanted.target_c, longest_gap_minutes=float("inf"))
    if max((h.minutes for h in bridged), default=0.0) >= wanted.hold_minutes - TOLERANCE:
        widest = max(b - a for a, b in zip(heat_log.minutes, heat_log.minutes[1:], strict=False))
        reasons.append(Reason(code=ReasonCode.GAP_IN_READINGS, seen=widest, wanted=longest_gap_minutes))
    return reasons


def _remedies(reasons: list[Reason]) -> tuple[Remedy, ...]:
    codes = {r.code for r in reasons}
    found: list[Remedy] = []
    if codes & {ReasonCode.TOO_FEW_READINGS, ReasonCode.NEVER_REACHED, ReasonCode.HOLD_TOO_SHORT}:
        found += [Remedy.HEAT_AGAIN, Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE]
    if codes & {ReasonCode.TOO_FEW_READINGS, ReasonCode.GAP_IN_READINGS}:
        found.append(Remedy.READ_MORE_OFTEN)
    if ReasonCode.PH_OVER_TABLES in codes:
        found += [r for r in (Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE) if r not in found]
        found.append(Remedy.ASK_FOOD_ADVICE)
    if ReasonCode.PH_NOT_MEASURED in codes:
        found.append(Remedy.MEASURE_PH)
    if codes & {
        ReasonCode.PROBE_NEVER_CHECKED,
        ReasonCode.PROBE_CHECK_OLD,
        ReasonCode.PROBE_ONE_POINT,
    }:
        found.append(Remedy.CHECK_PROBE)
    return tuple(found)


def judge(
    heat_log: HeatLog,
    *,
    recommendation: Recommendation = DEFAULT_RECOMMENDATION,
    probe: Correction = UNCHECKED,
    ph: float | None = None,
    longest_gap_minutes: float = DEFAULT_LONGEST_GAP_MINUTES,
) -> HeatVerdict:
    """Judge a log of raw probe readings: correct them, find the hold, add up the heat, and give the
    reasons.

    Total for every `HeatLog`, the empty one included. `ph` is 0 to 14 or None,
    `longest_gap_minutes` 0 to 1440; raises `OutOfRange` beyond.
    """
    require_between("longest_gap_minutes", longest_gap_minutes, 0.0, 1440.0)
    corrected = probe.applied_to(heat_log)
    origin = corrected.minutes[0] if corrected.minutes else 0.0
    pauses = corrected.pauses(longest_gap_minutes)
    hot = _hot(corrected, recommendation.target_c)
    found = _holds(corrected, recommendation.target_c, pauses, hot)
    longest = max(found, key=lambda h: h.minutes, default=None)
    reasons = _hold_reasons(corrected, longest, recommendation, longest_gap_minutes)
    reasons += _ph_reasons(ph)
    reasons += [Reason(code=ReasonCode(remark.value)) for remark in probe.remarks]
    return HeatVerdict(
        verdict=Verdict.NOT_SHOWN if any(r.stops for r in reasons) else Verdict.HELD,
        reasons=tuple(reasons),
        remedies=_remedies(reasons),
        recommendation=recommendation,
        reached_at=_first_reached(corrected, found, hot),
        longest=longest and Hold(start=longest.start - origin, end=longest.end - origin, lowest_c=longest.lowest_c),
        highest_c=max(corrected.celsius, default=None),
        gaps=pauses.count(1),
        lethality=lethality(corrected, ph=ph, longest_gap_minutes=longest_gap_minutes, pauses=pauses),
    )
