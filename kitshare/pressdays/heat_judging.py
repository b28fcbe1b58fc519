"""What a log of readings says of a batch, worked out before anything is written: it may be 200,000 readings long."""

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Final

from kitshare.kits.models import Part
from kitshare.rules.heat import DEFAULT_LONGEST_GAP_MINUTES, HeatLog
from kitshare.rules.heat_verdict import HeatVerdict, Recommendation, judge
from kitshare.rules.probes import UNCHECKED, Correction, correction
from kitshare.rules.readings import ReadLog, thinned
from kitshare.upkeep.probe_models import ProbeCheck

DRAWN_AT_MOST: Final = 400
GAPS_DRAWN_AT_MOST: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The corrected log as it is drawn: points thinned, and the widest gaps between readings, in minutes."""

    points: tuple[tuple[float, float], ...]
    gaps: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A log as it was read, the correction that its probe asks for, and the verdict."""

    read: ReadLog
    check: ProbeCheck | None
    correction: Correction
    longest_gap_minutes: float
    verdict: HeatVerdict
    curve: Curve


def check_of(probe: Part | None, *, on: date) -> ProbeCheck | None:
    """The check by which a probe's readings of a day are put right."""
    return ProbeCheck.objects.in_force(part=probe, on=on) if probe else None


def correction_of(check: ProbeCheck | None, *, on: date) -> Correction:
    """What a check says of readings taken on a day. Unusable probes were refused when they were checked."""
    return correction(check.as_rule(on=on)) if check else UNCHECKED


def work_out(
    read: ReadLog, *, recommendation: Recommendation, probe: Part | None, filled_on: date, ph: float | None
) -> Judged:
    """Correct, judge and thin a log. `ph` is 0 to 14 or None."""
    check = check_of(probe, on=filled_on)
    corrected_by = correction_of(check, on=filled_on)
    gap = DEFAULT_LONGEST_GAP_MINUTES
    return Judged(
        read=read,
        check=check,
        correction=corrected_by,
        longest_gap_minutes=gap,
        verdict=judge(read.log, recommendation=recommendation, probe=corrected_by, ph=ph, longest_gap_minutes=gap),
        curve=curve_of(read.log, corrected_by, gap),
    )


def curve_of(heat_log: HeatLog, corrected_by: Correction, longest_gap_minutes: float) -> Curve:
    """A log as it is drawn. Both ends of each gap that is drawn are points of it."""
    drawn = corrected_by.applied_to(thinned(heat_log, most=DRAWN_AT_MOST))
    minutes = heat_log.minutes
    wide = [
        (later - earlier, place)
        for place, (earlier, later) in enumerate(pairwise(minutes))
        if later - earlier > longest_gap_minutes
    ]
    widest = sorted(place for _width, place in sorted(wide, reverse=True)[:GAPS_DRAWN_AT_MOST])
    ends = {end for place in widest for end in (place, place + 1)}
    points = dict(zip(drawn.minutes, drawn.celsius, strict=True))
    points |= {minutes[end]: corrected_by.true_celsius(heat_log.celsius[end]) for end in ends}
    return Curve(
        points=tuple(sorted(points.items())), gaps=tuple((minutes[place], minutes[place + 1]) for place in widest)
    )
