"""The day as a picture: stations as layers of a stack, batches as blocks, drawn twice from the same tracks.

On a desk the time runs to the right, on a phone it runs down. Only whole numbers and class names leave here; the
stylesheet has the colours.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import ceil, floor
from typing import Final

from kitshare.pressdays import words
from kitshare.rules.pressday import Bar, DayPlan, Station
from kitshare.web.pressdays.clock_words import COOLING, day_and_time, letter, short_name

MOST_BLOCKS: Final = 40
"""A station of more batches shows them in bundles: nobody can read two hundred blocks."""

LABELLED_FROM: Final = 20
TICK_STEPS: Final = (30, 60, 120, 180, 240, 360, 720, 1440, 2880, 7200, 14400, 28800)
MOST_TICKS: Final = 12

WIDE: Final = 1000
WIDE_NAMES: Final = 150
WIDE_LANE: Final = 58
WIDE_TOP: Final = 40
TALL: Final = 360
TALL_TIMES: Final = 64
TALL_TOP: Final = 44
TALL_LEAST: Final = 360
TALL_MOST: Final = 1400

TONES: Final = {
    Station.WASH: "fruit",
    Station.MILL: "fruit",
    Station.PRESS: "fruit",
    Station.FILL: "juice",
    Station.HEAT: "juice",
    Station.CLEAN: "clean",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A batch, or a bundle of them, in minutes of the day. It works until `end` and stands in the way until `leave`.

    `mark` is the letter of its kind, where several are heated.
    """

    start: float
    end: float
    leave: float
    first: int
    last: int
    lane: int = 0
    mark: str = ""

    @property
    def label(self) -> str:
        numbers = str(self.first) if self.first == self.last else f"{self.first}–{self.last}"
        return f"{numbers}{self.mark}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """All batches of one station; several machines are so many lanes."""

    name: str
    short: str
    tone: str
    spans: tuple[Span, ...]
    lanes: int = 1
    bottleneck: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle with its class names, and the words in it where they find room."""

    x: int
    y: int
    width: int
    height: int
    classes: str
    label: str = ""

    @property
    def middle_x(self) -> int:
        return self.x + self.width // 2

    @property
    def middle_y(self) -> int:
        return self.y + self.height // 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A time on the scale, or the end of the day."""

    at: int
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Where a station lies across the picture: from `at`, so broad, with its name."""

    at: int
    breadth: int
    name: str
    bottleneck: bool

    @property
    def middle(self) -> int:
        return self.at + self.breadth // 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One picture."""

    width: int
    height: int
    start: int
    layers: tuple[Layer, ...]
    boxes: tuple[Box, ...]
    ticks: tuple[Mark, ...]
    end: Mark


def tracks(plan: DayPlan) -> list[Track]:
    """The stations in the order of the day, each with its batches; cooling is a track of its own."""
    found = []
    for station in Station:
        bars = [bar for bar in plan.bars if bar.station is station]
        if not bars:
            continue
        machines = plan.given.paces[station].machines if station in plan.given.stations else 1
        if station is Station.HEAT and plan.given.heat:
            machines = plan.given.heat.pasteurisers
        spans = _bundled(bars, _letters(plan))
        lanes = machines if len(spans) == len(bars) and machines <= 4 else 1
        track = Track(
            name=words.station(station),
            short=short_name(station),
            tone=TONES[station],
            spans=_in_lanes(spans, lanes),
            lanes=lanes,
            bottleneck=station is plan.bottleneck,
        )
        found.append(track)
        if station is Station.HEAT and plan.cool_at is not None:
            cool = Span(start=bars[0].end, end=plan.cool_at, leave=plan.cool_at, first=1, last=len(bars))
            found.append(Track(name=COOLING(), short=short_name(None), tone="cool", spans=(cool,)))
    return found


def _letters(plan: DayPlan) -> dict[str, str]:
    """The letter of each kind that is heated; none where there is only one."""
    kinds = plan.given.heat.kinds if plan.given.heat else ()
    return {kind.key: letter(place) for place, kind in enumerate(kinds)} if len(kinds) > 1 else {}


def _bundled(bars: Sequence[Bar], letters: Mapping[str, str]) -> list[Span]:
    size = ceil(len(bars) / MOST_BLOCKS)
    found = []
    for _, group in groupby(enumerate(bars), key=lambda pair: pair[0] // size):
        bundle = [bar for _, bar in group]
        span = Span(
            start=min(bar.start for bar in bundle),
            end=max(bar.end for bar in bundle),
            leave=max(bar.leave for bar in bundle),
            first=bundle[0].batch,
            last=bundle[-1].batch,
            mark=letters.get(bundle[0].kind, "") if bundle[0].kind == bundle[-1].kind else "",
        )
        found.append(span)
    return found


def _in_lanes(spans: Iterable[Span], lanes: int) -> tuple[Span, ...]:
    """Each batch on the machine that is free the longest."""
    free = [0.0] * lanes
    found = []
    for span in spans:
        lane = free.index(min(free))
        free[lane] = span.leave
        found.append(replace(span, lane=lane))
    return tuple(found)


def _marks(start_minute: int, length: float) -> list[tuple[int, str]]:
    """Whole hours of the clock within the day, as minutes from its start, far enough apart to be read."""
    step = next((step for step in TICK_STEPS if length / step <= MOST_TICKS), TICK_STEPS[-1])
    first = ceil(start_minute / step) * step
    return [
        (minute - start_minute, day_and_time(minute, short=True))
        for minute in range(first, start_minute + floor(length) + 1, step)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    origin: int
    per_minute: float

    def at(self, minutes: float) -> int:
        return self.origin + round(minutes * self.per_minute)


def wide(found: Sequence[Track], *, start_minute: int, end_minutes: float) -> Chart:
    """The picture for a desk: a layer for each station, time to the right. Minutes count from the start of the day."""
    length = _length(found, end_minutes)
    scale = _Scale(origin=WIDE_NAMES, per_minute=(WIDE - WIDE_NAMES - 16) / length)
    layers = tuple(
        Layer(at=WIDE_TOP + row * WIDE_LANE, breadth=WIDE_LANE, name=track.name, bottleneck=track.bottleneck)
        for row, track in enumerate(found)
    )
    boxes = []
    for layer, track in zip(layers, found, strict=True):
        lane = (layer.breadth - 14) / track.lanes
        for span in track.spans:
            x, y = scale.at(span.start), round(layer.at + 9 + span.lane * lane)
            box = _box(track, span, end_minutes, x=x, y=y, width=scale.at(span.end) - x, height=round(lane) - 2)
            boxes.append(box if box.width >= LABELLED_FROM + 8 * (len(box.label) - 1) else _bare(box))
    return Chart(
        width=WIDE,
        height=WIDE_TOP + len(found) * WIDE_LANE + 10,
        start=WIDE_NAMES,
        layers=layers,
        boxes=tuple(boxes),
        ticks=tuple(Mark(at=scale.at(minute), label=label) for minute, label in _marks(start_minute, length)),
        end=Mark(at=scale.at(end_minutes), label=day_and_time(start_minute + round(end_minutes), short=True)),
    )


def tall(found: Sequence[Track], *, start_minute: int, end_minutes: float) -> Chart:
    """The picture for a phone: a column for each station, time down."""
    length = _length(found, end_minutes)
    height = round(min(max(length * 1.1, TALL_LEAST), TALL_MOST))
    scale = _Scale(origin=TALL_TOP, per_minute=height / length)
    breadth = (TALL - TALL_TIMES - 8) // max(len(found), 1)
    layers = tuple(
        Layer(at=TALL_TIMES + column * breadth, breadth=breadth, name=track.short, bottleneck=track.bottleneck)
        for column, track in enumerate(found)
    )
    boxes = []
    for layer, track in zip(layers, found, strict=True):
        lane = (layer.breadth - 8) / track.lanes
        for span in track.spans:
            x, y = round(layer.at + 5 + span.lane * lane), scale.at(span.start)
            box = _box(track, span, end_minutes, x=x, y=y, width=round(lane) - 1, height=scale.at(span.end) - y)
            fits = box.height >= 15 and box.width >= 9 * len(box.label)
            boxes.append(box if fits else _bare(box))
    return Chart(
        width=TALL,
        height=TALL_TOP + height + 12,
        start=TALL_TOP,
        layers=layers,
        boxes=tuple(boxes),
        ticks=tuple(Mark(at=scale.at(minute), label=label) for minute, label in _marks(start_minute, length)),
        end=Mark(at=scale.at(end_minutes), label=day_and_time(start_minute + round(end_minutes), short=True)),
    )


def _length(found: Sequence[Track], end_minutes: float) -> float:
    last = max((span.leave for track in found for span in track.spans), default=0.0)
    return max(last, end_minutes) * 1.02


def _box(track: Track, span: Span, end_minutes: float, **place: int) -> Box:
    names: Mapping[str, bool] = {
        f"clock-{track.tone}": True,
        "clock-narrowest": track.bottleneck,
        "clock-late": span.end > end_minutes + 0.5,
    }
    place["width"], place["height"] = max(place["width"], 2), max(place["height"], 2)
    label = span.label if track.tone in ("fruit", "juice") else ""
    return Box(classes=" ".join(name for name, holds in names.items() if holds), label=label, **place)


def _bare(box: Box) -> Box:
    return Box(x=box.x, y=box.y, width=box.width, height=box.height, classes=box.classes)
