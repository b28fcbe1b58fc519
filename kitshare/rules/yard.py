"""What stands in the yard, and the day it gives: mills, presses and baths with their own figures or the usual ones.

Machines of one sort work side by side. Where they differ, the day is planned with as many alike ones that together do
as much in an hour. A station without its machine is left out: what it does is done elsewhere or not at all.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import floor, fsum

from kitshare.rules.heating import BatchPlan, Bottle, Heater, Pasteuriser, plan_batches
from kitshare.rules.pressday_terms import USUAL_PACE, HeatStage, KindInBath, Pace, Station

USUAL_CHEESE_KG = 40.0
RACK_LITRES = 0.75
"""The bottle by which the size of a rack is told."""

USUAL_HEATER = Heater(kw=6.0)
USUAL_BATH_LITRES = 50.0
USUAL_RACK = 72


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill:
    """A mill: kilograms an hour (None: as usual), and whether somebody has to turn it."""

    kg_per_hour: float | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """A press: kilograms an hour and in a cheese (None: as usual)."""

    kg_per_hour: float | None = None
    cheese_kg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """A pasteuriser: its heater, litres of water about a full rack, and bottles of 0.75 litres in the rack."""

    heater: Heater = USUAL_HEATER
    water_litres: float = USUAL_BATH_LITRES
    rack: int = USUAL_RACK

    def bottles_of(self, litres: float) -> int:
        """How many bottles of another size find room: as many as are as large together, at least one."""
        return max(1, floor(self.rack * RACK_LITRES / litres + 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """What is there of each sort; at most twenty of one are planned with."""

    mills: tuple[Mill, ...] = ()
    presses: tuple[Press, ...] = ()
    baths: tuple[Bath, ...] = ()

    @property
    def stations(self) -> tuple[Station, ...]:
        """The stations that work, in the order of the day; none without any machine.

        Fruit is washed where it is milled or pressed, and juice filled where it is pressed or heated.
        """
        there = {
            Station.WASH: self.mills or self.presses,
            Station.MILL: self.mills,
            Station.PRESS: self.presses,
            Station.FILL: self.presses or self.baths,
        }
        return tuple(station for station, machines in there.items() if machines)

    @property
    def cheese_kg(self) -> float:
        """Kilograms of fruit that go through the day together: the mean cheese, or the usual one without a press."""
        sizes = [press.cheese_kg or USUAL_CHEESE_KG for press in self.presses[:20]]
        return fsum(sizes) / len(sizes) if sizes else USUAL_CHEESE_KG

    @property
    def paces(self) -> dict[Station, Pace]:
        """The pace of mills and presses. A mill turned by hand takes a pair of hands for as long as it runs."""
        found = {}
        if mills := self.mills[:20]:
            pace = _side_by_side(USUAL_PACE[Station.MILL], [mill.kg_per_hour for mill in mills])
            turned = any(mill.by_hand for mill in mills)
            by_machine = pace.machine_kg_per_hour or pace.hand_kg_per_hour
            hands = min(pace.hand_kg_per_hour, by_machine) if turned else pace.hand_kg_per_hour
            found[Station.MILL] = replace(pace, hand_kg_per_hour=hands)
        if presses := self.presses[:20]:
            found[Station.PRESS] = _side_by_side(USUAL_PACE[Station.PRESS], [press.kg_per_hour for press in presses])
        return found


def _side_by_side(usual: Pace, speeds: Sequence[float | None]) -> Pace:
    """So many machines of the mean speed, with room for hands at each."""
    usual_speed = usual.machine_kg_per_hour or usual.hand_kg_per_hour
    mean = fsum(speed or usual_speed for speed in speeds) / len(speeds)
    return replace(
        usual, machine_kg_per_hour=mean, machines=len(speeds), most_hands=min(50, usual.most_hands * len(speeds))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ToHeat:
    """A kind of container with juice to be heated: its key, litres to the brim, the bottle, and litres for all."""

    key: str
    brim_litres: float
    bottle: Bottle
    juice_litres: float


def in_order(kinds: Iterable[ToHeat]) -> tuple[ToHeat, ...]:
    """The order in which kinds are heated: the largest first, those of one size as they were given.

    The last to come out is then small and soon cool. Where a rack holds as much of each, and large ones take longer, no
    other order ends sooner: whenever juice comes, the least that can be is left to heat after it (an exchange of
    neighbours shows it). The juice left over from each kind's full racks may change that by part of a batch.
    """
    return tuple(sorted(kinds, key=lambda kind: -kind.brim_litres))


@dataclass(frozen=True, slots=True, kw_only=True)
class BathPlan:
    """How a bath's batches of one kind go, if this bath took them all: `bottles` in a full one, so many litres."""

    bath: Bath
    kind: ToHeat
    bottles: int
    litres: float
    batches: BatchPlan


def bath_plan(bath: Bath, kind: ToHeat, *, target_c: float, hold_minutes: float) -> BathPlan:
    """Plan a bath for all the juice in a kind of container. Raises `NeverReached`, `OutOfRange`."""
    bottles = bath.bottles_of(kind.brim_litres)
    plan = plan_batches(
        bottles=max(1, -int(-kind.juice_litres // kind.bottle.juice_litres)),
        bottle=kind.bottle,
        bath=Pasteuriser(heater=bath.heater, water_litres=bath.water_litres, bottles=bottles),
        target_c=target_c,
        hold_minutes=hold_minutes,
    )
    return BathPlan(bath=bath, kind=kind, bottles=bottles, litres=bottles * kind.bottle.juice_litres, batches=plan)


def heat_stage(baths: Sequence[Sequence[BathPlan]], *, share: float) -> HeatStage:
    """One to twenty baths as alike ones that heat as much in an hour; `share` of the juice goes through them.

    Each bath has a plan for each kind, the kinds in the order in which they are heated.
    """
    baths = baths[:20]
    juice = fsum(plan.kind.juice_litres for plan in baths[0])
    by_kind = zip(*baths, strict=True)
    return HeatStage(
        kinds=tuple(_in_bath(plans, juice) for plans in by_kind),
        share=share,
        pasteurisers=len(baths),
    )


def _in_bath(plans: Sequence[BathPlan], juice_litres: float) -> KindInBath:
    """One kind in as many alike baths; its part is of all the juice to be heated."""
    kind, litres = plans[0].kind, fsum(plan.litres for plan in plans)

    def minutes(each: Sequence[float]) -> float:
        return litres / fsum(plan.litres / took for plan, took in zip(plans, each, strict=True))

    return KindInBath(
        key=kind.key,
        part=kind.juice_litres / juice_litres,
        litres_each=kind.bottle.juice_litres,
        litres_per_batch=litres / len(plans),
        first_minutes=minutes([plan.batches.first.total for plan in plans]),
        later_minutes=minutes([plan.batches.later.total for plan in plans]),
    )
