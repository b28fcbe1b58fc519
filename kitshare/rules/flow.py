"""Batches that flow through stations one after the other: when each starts, ends and moves on.

Every batch passes every station in the same order and none overtakes. A station has one or more places that work side
by side and, before it, room for a number of waiting batches (None: as much as needed). A batch that finds no room ahead
stays where it is and blocks its place. For one place each and no limit on room this is the permutation flow shop of
Johnson (Naval Research Logistics Quarterly 1:61, 1954); with no room it is the flow shop with blocking.
"""

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from operator import gt


class FlowUnusable(ValueError):
    """A negative or endless time, no places, or a table whose rows differ in length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What a station offers: `servers` batches at once, and `room` for those waiting before it."""

    servers: int = 1
    room: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One batch at one station, in minutes from the start: work from `start` to `end`, gone at `leave`."""

    start: float
    end: float
    leave: float

    @property
    def blocked(self) -> float:
        """Minutes for which the batch was done and could not move on."""
        return self.leave - self.end


def flow(
    times: Sequence[Sequence[float]], places: Sequence[Place], *, released: Sequence[float] | None = None
) -> list[list[Passage]]:
    """Work out the passage of each batch through each station.

    `times[j][i]` are the minutes of batch j at station i, `released[j]` the minute from which batch j may start
    (rising, default 0). Batch j starts at station i when it has left station i - 1 and a place is free; it leaves when
    it is done and, at the next station, all but room + servers - 1 of the batches before it have left. Raises
    `FlowUnusable`.
    """
    _require_sound(times, places)
    ready = list(released) if released is not None else [0.0] * len(times)
    if len(ready) != len(times) or any(map(gt, ready, ready[1:])):
        raise FlowUnusable("batches are released in order, each once")
    gone: list[list[float]] = [[] for _ in places]
    found: list[list[Passage]] = []
    for batch, minutes in enumerate(times):
        row: list[Passage] = []
        arrived = ready[batch]
        for station, place in enumerate(places):
            not_before_the_last = found[-1][station].start if found else 0.0
            start = max(arrived, _free_at(gone[station], place.servers), not_before_the_last)
            end = start + minutes[station]
            leave = max(end, _room_at(gone, places, station, batch))
            insort(gone[station], leave)
            row.append(Passage(start=start, end=end, leave=leave))
            arrived = leave
        found.append(row)
    return found


def _require_sound(times: Sequence[Sequence[float]], places: Sequence[Place]) -> None:
    if not places or any(p.servers < 1 or (p.room is not None and p.room < 0) for p in places):
        raise FlowUnusable("a station needs at least one place")
    for minutes in times:
        if len(minutes) != len(places) or not all(isfinite(m) and m >= 0 for m in minutes):
            raise FlowUnusable("each batch needs one time of zero or more for each station")


def _free_at(gone: list[float], servers: int) -> float:
    """When a place is free: once all but servers - 1 of the batches so far have left."""
    return gone[-servers] if len(gone) >= servers else 0.0


def _room_at(gone: list[list[float]], places: Sequence[Place], station: int, batch: int) -> float:
    """When the next station has room for this batch: at once after the last one, or where room is endless."""
    if station + 1 == len(places) or places[station + 1].room is None:
        return 0.0
    ahead = places[station + 1]
    held = ahead.servers + (ahead.room or 0)
    return gone[station + 1][-held] if batch >= held else 0.0


def makespan(passages: Sequence[Sequence[Passage]]) -> float:
    """The minute at which the last batch leaves the last station; 0 without batches."""
    return max((row[-1].leave for row in passages), default=0.0)
