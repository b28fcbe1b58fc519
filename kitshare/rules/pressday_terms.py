"""What is known of a press day before it is planned: stations, their pace, the heat, and the day itself.

A station that is not there, because its machine is not in the booking, takes neither time nor hands: a press alone is
given milled fruit, a pasteuriser alone is given juice.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, fsum

from kitshare.rules.water import OutOfRange, require_between


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
class KindInBath:
    """One kind of container in the bath: litres in a full rack of it, minutes of a cold first bath and of a warm one.

    `litres_each` is in one container; `part` of the heated juice goes into this kind (1e-9 to 1). A rack that is
    not full has water where bottles would be, and takes as long.
    """

    litres_per_batch: float
    litres_each: float
    first_minutes: float
    later_minutes: float
    part: float = 1.0
    key: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be, with `OutOfRange`."""
        require_between("litres_per_batch", self.litres_per_batch, 0.25, 5000.0)
        require_between("first_minutes", self.first_minutes, 1.0, 1440.0)
        require_between("later_minutes", self.later_minutes, 1.0, 1440.0)
        require_between("part", self.part, 1e-9, 1.0)
        require_between("litres_each", self.litres_each, 0.01, self.litres_per_batch * (1 + 1e-9))

    def containers(self, litres: float) -> int:
        """How many containers so much juice fills, the last perhaps in part; a millionth of one needs no other."""
        return max(1, ceil(litres / self.litres_each - 1e-6))

    def racks(self, litres: float) -> int:
        """How many racks so much juice fills, the last perhaps in part."""
        return max(1, ceil((litres - 1e-6 * self.litres_each) / self.litres_per_batch))


MOST_KINDS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStage:
    """The pasteuriser's part: the kinds in the order in which they are heated (1 to 100), and how many baths.

    `share` of the juice is heated (0 to 1); bottles cool for `cool_minutes`; a batch keeps a pair of hands for
    `hand_minutes`.
    """

    kinds: tuple[KindInBath, ...]
    share: float = 1.0
    pasteurisers: int = 1
    hand_minutes: float = 12.0
    cool_minutes: float = 60.0

    def __post_init__(self) -> None:
        """Refuse what cannot be, with `OutOfRange`: the parts of the kinds are a whole."""
        require_between("kinds", len(self.kinds), 1, MOST_KINDS)
        require_between("parts", fsum(kind.part for kind in self.kinds), 1 - 1e-6, 1 + 1e-6)
        require_between("share", self.share, 0.0, 1.0)
        require_between("pasteurisers", self.pasteurisers, 1, 20)
        require_between("hand_minutes", self.hand_minutes, 0.0, 240.0)
        require_between("cool_minutes", self.cool_minutes, 0.0, 1440.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayGiven:
    """What is known of the day: a gram to 20,000 kg of fruit, litres of juice from it, kilograms in a cheese.

    `stations` are those of `FLOWING` that are there, at least one; without filling nothing is heated. Raises
    `OutOfRange`.
    """

    fruit_kg: float
    juice_litres: float
    helpers: int
    cheese_kg: float = 40.0
    heat: HeatStage | None = None
    pace: Mapping[Station, Pace] | None = None
    set_up_minutes: float = SET_UP_MINUTES
    clean_hand_minutes: float = CLEAN_HAND_MINUTES
    stations: tuple[Station, ...] = FLOWING

    def __post_init__(self) -> None:
        """Refuse what cannot be, with `OutOfRange`."""
        require_between("fruit_kg", self.fruit_kg, 0.001, 20_000.0)
        require_between("juice_litres", self.juice_litres, 0.0, self.fruit_kg)
        require_between("helpers", self.helpers, 1, 200)
        require_between("cheese_kg", self.cheese_kg, 5.0, 2000.0)
        require_between("set_up_minutes", self.set_up_minutes, 0.0, 1440.0)
        require_between("clean_hand_minutes", self.clean_hand_minutes, 0.0, 10_000.0)
        in_order = tuple(station for station in FLOWING if station in self.stations)
        if not in_order or in_order != self.stations or (self.heat and Station.FILL not in in_order):
            raise OutOfRange("stations", len(self.stations), 1, len(FLOWING))

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
