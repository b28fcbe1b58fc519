"""The press day on a clock: batches of fruit through wash, mill, press and fill, bottles through the heat, and
cleaning.

One cheese is one batch up to the filling. Bottles are heated by the bath: a batch is ready when enough juice is filled.
What waits where is stated (`ROOM`): washed fruit waits in crates as long as it must, one cheese of milled pomace waits
for the press (it browns), four cheeses of juice wait in the vat, filled bottles wait for the bath. Minutes count from
the start of the day. It is a plan: fruit, weather and people decide.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import ceil

from kitshare.rules.crew import Duty, share_out
from kitshare.rules.flow import Passage, Place, flow, makespan
from kitshare.rules.water import require_between


class Station(StrEnum):
    """Where work is done, in the order of the day."""

    WASH = "wash"
    MILL = "mill"
    PRESS = "press"
    FILL = "fill"
    HEAT = "heat"
    CLEAN = "clean"


FLOWING = (Station.WASH, Station.MILL, Station.PRESS, Station.FILL)
ROOM: Mapping[Station, int | None] = {Station.WASH: None, Station.MILL: None, Station.PRESS: 1, Station.FILL: 4}
LONG_WAIT_MINUTES = 240.0
"""Filled juice that waits longer than this for the heat has begun to work on a warm day (our choice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast a station works: kilograms an hour by machine (None: no machine sets the pace) and by a pair of hands.

    `machines` work side by side (1 to 20); no more than `most_hands` find room (1 to 50).
    """

    machine_kg_per_hour: float | None
    hand_kg_per_hour: float
    machines: int = 1
    most_hands: int = 4

    def __post_init__(self) -> None:
        """Refuse a pace at which nothing or everything gets done, with `OutOfRange`."""
        require_between("machine_kg_per_hour", self.machine_kg_per_hour or 100.0, 1.0, 20_000.0)
        require_between("hand_kg_per_hour", self.hand_kg_per_hour, 1.0, 20_000.0)
        require_between("machines", self.machines, 1, 20)
        require_between("most_hands", self.most_hands, 1, 50)

    def machine_minutes(self, kg: float) -> float:
        """Minutes of one machine for so many kilograms."""
        return 60 * kg / self.machine_kg_per_hour if self.machine_kg_per_hour else 0.0

    def hand_minutes(self, kg: float) -> float:
        """Minutes of one pair of hands for so many kilograms."""
        return 60 * kg / self.hand_kg_per_hour


# Common practice and our choice, no source: the scheme sets what its own machines and people do.
USUAL_PACE: Mapping[Station, Pace] = {
    Station.WASH: Pace(machine_kg_per_hour=None, hand_kg_per_hour=200.0, most_hands=4),
    Station.MILL: Pace(machine_kg_per_hour=400.0, hand_kg_per_hour=500.0, most_hands=2),
    Station.PRESS: Pace(machine_kg_per_hour=160.0, hand_kg_per_hour=120.0, most_hands=3),
    Station.FILL: Pace(machine_kg_per_hour=None, hand_kg_per_hour=200.0, most_hands=4),
}
SET_UP_MINUTES, CLEAN_HAND_MINUTES = 30.0, 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStage:
    """The pasteuriser's part: litres in a full bath, minutes of the first bath and of each later one, and how many
    baths.

    `share` of the juice is heated (0 to 1); bottles cool for `cool_minutes`; a batch keeps a pair of hands for
    `hand_minutes`.
    """

    litres_per_batch: float
    first_minutes: float
    later_minutes: float
    share: float = 1.0
    pasteurisers: int = 1
    hand_minutes: float = 12.0
    cool_minutes: float = 60.0

    def __post_init__(self) -> None:
        """Refuse what cannot be, with `OutOfRange`."""
        require_between("litres_per_batch", self.litres_per_batch, 0.25, 5000.0)
        require_between("first_minutes", self.first_minutes, 1.0, 1440.0)
        require_between("later_minutes", self.later_minutes, 1.0, 1440.0)
        require_between("share", self.share, 0.0, 1.0)
        require_between("pasteurisers", self.pasteurisers, 1, 20)
        require_between("hand_minutes", self.hand_minutes, 0.0, 240.0)
        require_between("cool_minutes", self.cool_minutes, 0.0, 1440.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayGiven:
    """What is known of the day: a gram to 20,000 kg of fruit, litres of juice from it, kilograms in a cheese."""

    fruit_kg: float
    juice_litres: float
    helpers: int
    cheese_kg: float = 40.0
    heat: HeatStage | None = None
    pace: Mapping[Station, Pace] | None = None
    set_up_minutes: float = SET_UP_MINUTES
    clean_hand_minutes: float = CLEAN_HAND_MINUTES

    def __post_init__(self) -> None:
        """Refuse what cannot be, with `OutOfRange`."""
        require_between("fruit_kg", self.fruit_kg, 0.001, 20_000.0)
        require_between("juice_litres", self.juice_litres, 0.0, self.fruit_kg)
        require_between("helpers", self.helpers, 1, 200)
        require_between("cheese_kg", self.cheese_kg, 5.0, 2000.0)
        require_between("set_up_minutes", self.set_up_minutes, 0.0, 1440.0)
        require_between("clean_hand_minutes", self.clean_hand_minutes, 0.0, 10_000.0)

    @property
    def paces(self) -> Mapping[Station, Pace]:
        """The pace of each station, the usual one where none is given."""
        return {**USUAL_PACE, **(self.pace or {})}

    @property
    def cheeses(self) -> tuple[float, ...]:
        """Kilograms in each cheese: full ones and what is left."""
        count = ceil(self.fruit_kg / self.cheese_kg)
        return (*[self.cheese_kg] * (count - 1), self.fruit_kg - (count - 1) * self.cheese_kg)

    @property
    def heated_litres(self) -> float:
        """Litres that go through the heat; less than a thimble is none."""
        litres = self.juice_litres * self.heat.share if self.heat else 0.0
        return litres if litres >= 0.001 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A batch at a station: numbered from one, worked on from `start` to `end`, gone at `leave`, so much of it."""

    station: Station
    batch: int
    start: float
    end: float
    leave: float
    amount: float


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
    def waits_long(self) -> bool:
        """Whether filled juice waits longer for the heat than is wise."""
        return self.longest_wait > LONG_WAIT_MINUTES

    def start_by(self, finish_by: float) -> float:
        """The minute of the clock by which to start, to be finished by a minute of the clock."""
        return finish_by - self.finish


def plan_day(given: DayGiven) -> DayPlan:
    """Plan the day with all helpers, or with fewer if those are quicker: small groups share stations unevenly."""
    crews = {given.helpers, *range(1, min(given.helpers, len(FLOWING) + 1) + 1)}
    plans = [_planned(given, helpers) for helpers in sorted(crews, reverse=True)]
    return min(plans, key=lambda plan: plan.finish)


def _planned(given: DayGiven, helpers: int) -> DayPlan:
    batches = _heat_batches(given)
    hands = _hands(given, helpers)
    times = [[_minutes(given, station, kg, hands[station]) for station in FLOWING] for kg in given.cheeses]
    places = [Place(servers=given.paces[station].machines, room=ROOM[station]) for station in FLOWING]
    passages = flow(times, places, released=[given.set_up_minutes] * len(times))
    bars = [
        _bar(station, number, passage, kg)
        for number, (row, kg) in enumerate(zip(passages, given.cheeses, strict=True), 1)
        for station, passage in zip(FLOWING, row, strict=True)
    ]
    filled_at = makespan(passages)
    ready = _ready(given, passages, batches)
    hot = _heated(given, batches, ready, hands[Station.HEAT])
    bars += [_bar(Station.HEAT, n, row[0], litres) for n, (row, litres) in enumerate(zip(hot, batches, strict=True), 1)]
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
        pressed_at=max(row[2].end for row in passages),
        filled_at=filled_at,
        last_hot_at=last_hot_at,
        cool_at=last_hot_at + given.heat.cool_minutes if last_hot_at is not None and given.heat else None,
        cleaned_at=cleaned_at,
        longest_wait=max((row[0].start - r for row, r in zip(hot, ready, strict=True)), default=0.0),
    )


def _bar(station: Station, number: int, passage: Passage, amount: float) -> Bar:
    return Bar(station=station, batch=number, start=passage.start, end=passage.end, leave=passage.leave, amount=amount)


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
        for s in FLOWING
    ]
    # Not rounded up to whole baths: a little more fruit would else change who stands where, and might end sooner.
    minding = given.heat.hand_minutes * given.heated_litres / given.heat.litres_per_batch if given.heat else 0.0
    duties.append(Duty(machine_minutes=0.0, hand_minutes=minding, most_hands=1))
    return dict(zip((*FLOWING, Station.HEAT), share_out(duties, helpers), strict=True))


def _heat_batches(given: DayGiven) -> list[float]:
    """Litres in each bath: full ones and what is left."""
    if given.heat is None or not given.heated_litres:
        return []
    full = given.heat.litres_per_batch
    count = ceil(given.heated_litres / full)
    return [*[full] * (count - 1), given.heated_litres - (count - 1) * full]


def _ready(given: DayGiven, passages: list[list[Passage]], batches: list[float]) -> list[float]:
    """When enough juice is filled for each bath. Juice to be heated is taken evenly from every cheese."""
    ready: list[float] = []
    wanted, filled, cheese = 0.0, 0.0, -1
    for litres in batches:
        wanted += litres
        while filled < wanted - 1e-9 and cheese + 1 < len(passages):
            cheese += 1
            filled += given.heated_litres * given.cheeses[cheese] / given.fruit_kg
        ready.append(passages[max(cheese, 0)][-1].leave)
    return ready


def _heated(given: DayGiven, batches: list[float], ready: list[float], hands: float) -> list[list[Passage]]:
    if given.heat is None or not batches:
        return []
    stage = given.heat
    # A helper with other stations to mind keeps the bath waiting, at worst by a round of all of them.
    late = stage.hand_minutes * min(1 / hands - 1, len(FLOWING)) if hands else 0.0
    times = [
        [late + (stage.first_minutes if number < stage.pasteurisers else stage.later_minutes)]
        for number in range(len(batches))
    ]
    return flow(times, [Place(servers=stage.pasteurisers)], released=ready)


def _busy(given: DayGiven, bars: list[Bar]) -> dict[Station, float]:
    servers = {s: given.paces[s].machines for s in FLOWING}
    servers[Station.HEAT] = given.heat.pasteurisers if given.heat else 1
    busy = dict.fromkeys((*FLOWING, Station.HEAT), 0.0)
    for bar in bars:
        if bar.station in busy:
            busy[bar.station] += (bar.end - bar.start) / servers[bar.station]
    return busy
