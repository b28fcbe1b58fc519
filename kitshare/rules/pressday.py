"""The press day on a clock: batches of fruit through wash, mill, press and fill, bottles through the heat, and
cleaning.

One cheese is one batch up to the filling. Bottles are heated by the bath: a batch is ready when enough juice is filled.
Each batch is of one kind of container, with the minutes of that kind, and the kinds follow one another in the order in
which they are given. They are never mixed: the water stands at the shoulder of the bottles, above the caps of smaller
ones, and the one probe is in the coldest. So each kind has a last batch that may not be full.
What waits where is stated (`ROOM`): washed fruit waits in crates as long as it must, one cheese of milled pomace waits
for the press (it browns), four cheeses of juice wait in the vat, filled bottles wait for the bath. Minutes count from
the start of the day. It is a plan: fruit, weather and people decide.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import fsum

from kitshare.rules.crew import Duty, share_out
from kitshare.rules.flow import Passage, Place, flow, makespan
from kitshare.rules.pressday_terms import (
    CLEAN_HAND_MINUTES,
    FLOWING,
    ROOM,
    SET_UP_MINUTES,
    USUAL_PACE,
    DayGiven,
    HeatStage,
    KindInBath,
    Pace,
    Station,
)

LONG_WAIT_MINUTES = 240.0
"""Filled juice that waits longer than this for the heat has begun to work on a warm day (our choice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A batch at a station: numbered from one, worked on from `start` to `end`, gone at `leave`, so much of it.

    In the heat it is of one kind, `kind` its key, in so many containers.
    """

    station: Station
    batch: int
    start: float
    end: float
    leave: float
    amount: float
    kind: str = ""
    containers: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Load:
    """What goes into the bath at once."""

    kind: KindInBath
    litres: float
    containers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """The day, in minutes from its start. `amount` of a bar is kilograms of fruit, of a heat bar litres.

    `hands` are the helpers at each station; `busy` the minutes of work at each, by machine; `bottleneck` the busiest.
    """

    given: DayGiven
    bars: tuple[Bar, ...]
    hands: Mapping[Station, float]
    busy: Mapping[Station, float]
    bottleneck: Station
    pressed_at: float
    filled_at: float
    last_hot_at: float | None
    cool_at: float | None
    cleaned_at: float
    longest_wait: float

    @property
    def finish(self) -> float:
        """When the last bottle is cool and everything is clean."""
        return max(self.cleaned_at, self.cool_at or 0.0)

    @property
    def heated(self) -> tuple[Bar, ...]:
        """Each batch through the heat, in their order."""
        return tuple(bar for bar in self.bars if bar.station is Station.HEAT)

    @property
    def waits_long(self) -> bool:
        """Whether filled juice waits longer for the heat than is wise."""
        return self.longest_wait > LONG_WAIT_MINUTES

    def start_by(self, finish_by: float) -> float:
        """The minute of the clock by which to start, to be finished by a minute of the clock."""
        return finish_by - self.finish


def plan_day(given: DayGiven) -> DayPlan:
    """Plan the day with all helpers, or with fewer if those are quicker: small groups share stations unevenly."""
    crews = {given.helpers, *range(1, min(given.helpers, len(given.stations) + 1) + 1)}
    batches = _heat_batches(given)
    plans = [_planned(given, helpers, batches) for helpers in sorted(crews, reverse=True)]
    return min(plans, key=lambda plan: plan.finish)


def _planned(given: DayGiven, helpers: int, batches: list[_Load]) -> DayPlan:
    hands = _hands(given, helpers)
    times = [[_minutes(given, station, kg, hands[station]) for station in given.stations] for kg in given.cheeses]
    places = [Place(servers=given.paces[station].machines, room=ROOM[station]) for station in given.stations]
    passages = flow(times, places, released=[given.set_up_minutes] * len(times))
    bars = [
        _bar(station, number, passage, kg)
        for number, (row, kg) in enumerate(zip(passages, given.cheeses, strict=True), 1)
        for station, passage in zip(given.stations, row, strict=True)
    ]
    filled_at = makespan(passages)
    ready = _ready(given, passages, batches)
    hot = _heated(given, batches, ready, hands[Station.HEAT])
    bars += [
        _bar(Station.HEAT, n, row[0], load.litres, load.kind.key, load.containers)
        for n, (row, load) in enumerate(zip(hot, batches, strict=True), 1)
    ]
    cleaned_at = filled_at + given.clean_hand_minutes / helpers
    bars.append(Bar(station=Station.CLEAN, batch=1, start=filled_at, end=cleaned_at, leave=cleaned_at, amount=0.0))
    busy = _busy(given, bars)
    last_hot_at = makespan(hot) if hot else None
    return DayPlan(
        given=given,
        bars=tuple(bars),
        hands={**hands, Station.CLEAN: float(helpers)},
        busy=busy,
        bottleneck=max(busy, key=lambda station: busy[station]),
        pressed_at=_pressed_at(given, passages),
        filled_at=filled_at,
        last_hot_at=last_hot_at,
        cool_at=last_hot_at + given.heat.cool_minutes if last_hot_at is not None and given.heat else None,
        cleaned_at=cleaned_at,
        longest_wait=max((row[0].start - r for row, r in zip(hot, ready, strict=True)), default=0.0),
    )


def _pressed_at(given: DayGiven, passages: list[list[Passage]]) -> float:
    """When the last fruit leaves the last station before the filling; at once where there is none."""
    before = [place for place, station in enumerate(given.stations) if station is not Station.FILL]
    return max(row[before[-1]].end for row in passages) if before else given.set_up_minutes


def _bar(station: Station, number: int, passage: Passage, amount: float, kind: str = "", containers: int = 0) -> Bar:
    return Bar(
        station=station,
        batch=number,
        start=passage.start,
        end=passage.end,
        leave=passage.leave,
        amount=amount,
        kind=kind,
        containers=containers,
    )


def _minutes(given: DayGiven, station: Station, kg: float, hands: float) -> float:
    pace = given.paces[station]
    return max(pace.machine_minutes(kg), pace.machines * pace.hand_minutes(kg) / min(hands, pace.most_hands))


def _hands(given: DayGiven, helpers: int) -> dict[Station, float]:
    duties = [
        Duty(
            machine_minutes=given.paces[s].machine_minutes(given.fruit_kg) / given.paces[s].machines,
            hand_minutes=given.paces[s].hand_minutes(given.fruit_kg),
            most_hands=given.paces[s].most_hands,
        )
        for s in given.stations
    ]
    # Not rounded up to whole baths: a little more fruit would else change who stands where, and might end sooner.
    minding = 0.0
    if given.heat:
        racks = fsum(given.heated_litres * kind.part / kind.litres_per_batch for kind in given.heat.kinds)
        minding = given.heat.hand_minutes * racks
    duties.append(Duty(machine_minutes=0.0, hand_minutes=minding, most_hands=1))
    return dict(zip((*given.stations, Station.HEAT), share_out(duties, helpers), strict=True))


def _heat_batches(given: DayGiven) -> list[_Load]:
    """What is in each bath, kind after kind: full racks and what is left."""
    if given.heat is None or not given.heated_litres:
        return []
    return [load for kind in given.heat.kinds for load in _loads(kind, given.heated_litres * kind.part)]


def _loads(kind: KindInBath, litres: float) -> list[_Load]:
    """The batches of one kind. Containers are counted over all of them, so that none is in two."""
    full, count = kind.litres_per_batch, kind.racks(litres)
    filled = [0, *(kind.containers(full * n) for n in range(1, count)), kind.containers(litres)]
    amounts = [*[full] * (count - 1), litres - (count - 1) * full]
    return [
        _Load(kind=kind, litres=amount, containers=after - before)
        for amount, (before, after) in zip(amounts, pairwise(filled), strict=True)
    ]


def _ready(given: DayGiven, passages: list[list[Passage]], batches: list[_Load]) -> list[float]:
    """When enough juice is filled for each bath. Juice to be heated is taken evenly from every cheese."""
    cheeses = given.cheeses
    ready: list[float] = []
    wanted, filled, cheese = 0.0, 0.0, -1
    for load in batches:
        wanted += load.litres
        while filled < wanted - 1e-9 and cheese + 1 < len(passages):
            cheese += 1
            filled += given.heated_litres * cheeses[cheese] / given.fruit_kg
        ready.append(passages[max(cheese, 0)][-1].leave)
    return ready


def _heated(given: DayGiven, batches: list[_Load], ready: list[float], hands: float) -> list[list[Passage]]:
    if given.heat is None or not batches:
        return []
    stage = given.heat
    # A helper with other stations to mind keeps the bath waiting, at worst by a round of all of them.
    late = stage.hand_minutes * min(1 / hands - 1, len(given.stations)) if hands else 0.0
    times = [
        [late + (load.kind.first_minutes if number < stage.pasteurisers else load.kind.later_minutes)]
        for number, load in enumerate(batches)
    ]
    return flow(times, [Place(servers=stage.pasteurisers)], released=ready)


def _busy(given: DayGiven, bars: list[Bar]) -> dict[Station, float]:
    servers = {s: given.paces[s].machines for s in given.stations}
    servers[Station.HEAT] = given.heat.pasteurisers if given.heat else 1
    busy = dict.fromkeys((*given.stations, Station.HEAT), 0.0)
    for bar in bars:
        if bar.station in busy:
            busy[bar.station] += (bar.end - bar.start) / servers[bar.station]
    return busy


__all__ = [
    "CLEAN_HAND_MINUTES",
    "FLOWING",
    "ROOM",
    "SET_UP_MINUTES",
    "USUAL_PACE",
    "Bar",
    "DayGiven",
    "DayPlan",
    "HeatStage",
    "KindInBath",
    "Pace",
    "Station",
    "plan_day",
]
