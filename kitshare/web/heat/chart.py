"""A log as a picture: temperature against time, drawn on the server by class names alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Final

from kitshare.pressdays.heat_judging import Curve

# Within the 400 by 250 of the template.
LEFT: Final = 34.0
RIGHT: Final = 392.0
TOP: Final = 12.0
BOTTOM: Final = 220.0
STEPS_MINUTES: Final = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 720, 1440)
MOST_TICKS: Final = 7
STEP_C: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A mark on an axis: where it stands, and what it says."""

    at: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A stretch of time as a rectangle."""

    left: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Everything the picture needs, in its own coordinates."""

    lines: list[str]  # points of each unbroken stretch
    lone: list[tuple[float, float]]  # readings between two gaps
    gaps: list[Band]
    hold: Band | None
    target: Tick | None
    across: list[Tick]  # minutes
    up: list[Tick]  # degrees


def draw(curve: Curve, *, target_c: float | None = None, hold: tuple[float, float] | None = None) -> Chart:
    """Lay a curve out. `hold` is from when to when, in minutes, the target was held the longest."""
    last = max((minute for minute, _celsius in curve.points), default=1.0) or 1.0
    heights = [celsius for _minute, celsius in curve.points] + ([target_c] if target_c is not None else [])
    low, high = _bounds(heights or [0.0])

    def x(minute: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * minute / last, 1)

    def y(celsius: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * (celsius - low) / (high - low), 1)

    def band(start: float, end: float) -> Band:
        return Band(left=x(start), width=round(max(x(end) - x(start), 0.5), 1))

    stretches = _stretches(curve)
    return Chart(
        lines=[" ".join(f"{x(m)},{y(c)}" for m, c in stretch) for stretch in stretches if len(stretch) > 1],
        lone=[(x(stretch[0][0]), y(stretch[0][1])) for stretch in stretches if len(stretch) == 1],
        gaps=[band(start, end) for start, end in curve.gaps],
        hold=band(*hold) if hold else None,
        target=Tick(at=y(target_c), words=f"{target_c:g}") if target_c is not None else None,
        across=[Tick(at=x(minute), words=f"{minute:g}") for minute in _minutes(last)],
        up=[Tick(at=y(celsius), words=f"{celsius}") for celsius in range(low, high + 1, _step_c(low, high))],
    )


def _bounds(heights: Sequence[float]) -> tuple[int, int]:
    """Whole tens below and above everything drawn."""
    low = floor(min(heights) / STEP_C) * STEP_C
    high = ceil((max(heights) + 1) / STEP_C) * STEP_C
    return low, max(high, low + STEP_C)


def _step_c(low: int, high: int) -> int:
    return STEP_C if high - low <= MOST_TICKS * STEP_C else 2 * STEP_C


def _minutes(last: float) -> list[float]:
    """Marks from nought at a step that people count in."""
    step = next((step for step in STEPS_MINUTES if last / step <= MOST_TICKS), ceil(last / MOST_TICKS / 1440) * 1440)
    return [float(at) for at in range(0, floor(last) + 1, step)]


def _stretches(curve: Curve) -> list[list[tuple[float, float]]]:
    """The points between gaps, each stretch by itself."""
    ends = {start for start, _end in curve.gaps}
    found: list[list[tuple[float, float]]] = [[]]
    for point in curve.points:
        found[-1].append(point)
        if point[0] in ends:
            found.append([])
    return [stretch for stretch in found if stretch]
