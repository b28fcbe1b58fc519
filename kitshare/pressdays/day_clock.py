"""The press day of a booking on a clock: its own machines, its own juice, the hands and hours of the village."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import fsum

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays.clock import Hours
from kitshare.pressdays.heater_learning import Learned, batches_of, learn_heater
from kitshare.pressdays.planning import Ahead
from kitshare.rules.containers import Kind, Material, Use
from kitshare.rules.daylight import Overrun, overrun
from kitshare.rules.heating import USUAL_LOSS_W_PER_K, Bottle, Heater, NeverReached
from kitshare.rules.pressday import DayGiven, DayPlan, plan_day
from kitshare.rules.water import OutOfRange
from kitshare.rules.yard import (
    USUAL_BATH_LITRES,
    USUAL_HEATER,
    USUAL_RACK,
    Bath,
    BathPlan,
    Mill,
    Press,
    ToHeat,
    Yard,
    bath_plan,
    heat_stage,
    in_order,
)

LEAST_WATTS = 100
"""A pasteuriser of less power has no plate to go by: the usual heater is taken."""

MOST_CHEESES = 1000
"""A day of more would be planned for minutes: its cheeses are taken larger."""

FIGURES_USED: Mapping[str, tuple[str, ...]] = {
    MachineKind.MILL.value: ("kg_per_hour",),
    MachineKind.PRESS.value: ("kg_per_hour", "cheese_kg"),
    MachineKind.PASTEURISER.value: ("power_watts", "bath_litres", "bath_bottles"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BathDay:
    """One pasteuriser on the day. Without a machine it is the one more that somebody reckons with.

    `plans` are its batches of each kind, in their order; none where it cannot heat this juice: `stops_at_c` then says
    how far it gets, if the heater is why.
    """

    machine: Machine | None
    bath: Bath
    learned: Learned
    plans: tuple[BathPlan, ...] = ()
    stops_at_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayClock:
    """A press day on a clock. Without any machine for it there is no plan.

    `missing` are the sorts of machine that the booking has not, of those that its juice needs; `as_usual` the machines
    whose own figures are not known, with the names of those figures; `heated` the kinds that are heated, in order.
    """

    booking: Booking
    ahead: Ahead
    hours: Hours
    missing: tuple[MachineKind, ...]
    as_usual: tuple[tuple[Machine, tuple[str, ...]], ...]
    baths: tuple[BathDay, ...]
    heated: tuple[Kind, ...]
    plan: DayPlan | None
    over: Overrun | None

    @property
    def heats_one_kind(self) -> bool:
        """Whether all that is heated is of one kind."""
        return len(self.heated) == 1


def machines_of(booking: Booking) -> list[Machine]:
    """The machines of a booking, kit by kit in the order of packing."""
    return list(booking.machines.select_related("kit").order_by("kit__name", "kit_id", "position", "pk"))


def clock_of(ahead: Ahead, hours: Hours, machines: Sequence[Machine]) -> DayClock:
    """Put the day of a booking on a clock."""
    to_heat = _to_heat(ahead)
    baths = _baths(ahead, hours, machines, to_heat)
    kinds = {filling.kind.key: filling.kind for filling in ahead.fillings}
    yard = Yard(
        mills=tuple(_mill(machine) for machine in machines if machine.kind == MachineKind.MILL),
        presses=tuple(_press(machine) for machine in machines if machine.kind == MachineKind.PRESS),
        baths=tuple(one.bath for one in baths),
    )
    plan = plan_day(_given(ahead, hours, yard, baths)) if yard.stations else None
    return DayClock(
        booking=ahead.booking,
        ahead=ahead,
        hours=hours,
        missing=_missing(ahead, yard),
        as_usual=_as_usual(machines),
        baths=baths,
        heated=tuple(kinds[one.key] for one in to_heat),
        plan=plan,
        over=overrun(plan, float(hours.minutes)) if plan else None,
    )


def _to_heat(ahead: Ahead) -> tuple[ToHeat, ...]:
    """The kinds that are heated, in their order. The juice expected goes into them as they were chosen for the most."""
    held: dict[str, float] = {}
    kinds: dict[str, Kind] = {}
    for filling in ahead.fillings:
        if filling.use is Use.HEATED:
            kinds[filling.kind.key] = filling.kind
            held[filling.kind.key] = held.get(filling.kind.key, 0.0) + float(filling.litres)
    expected = float(ahead.litres.get(Use.HEATED, Decimal(0)))
    return in_order(
        ToHeat(
            key=key,
            brim_litres=float(kind.litres),
            bottle=Bottle(
                juice_litres=float(kind.fill_litres(Use.HEATED)),
                glass_kg=float(kind.tare_kg) if kind.material is Material.GLASS else 0.0,
                cracks=kind.material is Material.GLASS,
            ),
            juice_litres=expected * (held[key] / fsum(held.values())),
        )
        for key, kind in kinds.items()
    )


def _mill(machine: Machine) -> Mill:
    return Mill(kg_per_hour=machine.kg_per_hour, by_hand=machine.power_watts == 0)


def _press(machine: Machine) -> Press:
    return Press(kg_per_hour=machine.kg_per_hour, cheese_kg=float(machine.cheese_kg) if machine.cheese_kg else None)


def bath_of(machine: Machine) -> Bath:
    """A pasteuriser by its plate, with the usual figure for what nobody has given."""
    watts = machine.power_watts or 0
    loss = USUAL_LOSS_W_PER_K if machine.loss_w_per_k is None else float(machine.loss_w_per_k)
    return Bath(
        heater=Heater(kw=watts / 1000 if watts >= LEAST_WATTS else USUAL_HEATER.kw, loss_w_per_k=loss),
        water_litres=float(machine.bath_litres or USUAL_BATH_LITRES),
        rack=machine.bath_bottles or USUAL_RACK,
    )


def _baths(ahead: Ahead, hours: Hours, machines: Sequence[Machine], kinds: Sequence[ToHeat]) -> tuple[BathDay, ...]:
    ours = [machine for machine in machines if machine.kind == MachineKind.PASTEURISER]
    records = batches_of(ours)
    found = []
    for machine in ours:
        bath = bath_of(machine)
        learned = learn_heater(plate=bath.heater, water_litres=bath.water_litres, batches=records[machine.pk])
        found.append(_bath_day(ahead, machine, replace(bath, heater=learned.heater), learned, kinds))
    if hours.one_more_bath:
        like = max((one.bath for one in found), key=lambda bath: bath.rack, default=Bath())
        found.append(_bath_day(ahead, None, like, Learned(heater=like.heater), kinds))
    return tuple(found)


def _bath_day(ahead: Ahead, machine: Machine | None, bath: Bath, learned: Learned, kinds: Sequence[ToHeat]) -> BathDay:
    """A bath that cannot heat one of the kinds is left out: it would stand in the way of the others."""
    plans: tuple[BathPlan, ...] = ()
    stops_at_c = None
    heat = ahead.heat
    try:
        plans = tuple(bath_plan(bath, kind, target_c=heat.target_c, hold_minutes=heat.hold_minutes) for kind in kinds)
    except NeverReached as never:
        stops_at_c = never.settles_at_c
    except OutOfRange:
        plans = ()
    return BathDay(machine=machine, bath=bath, learned=learned, plans=plans, stops_at_c=stops_at_c)


def _given(ahead: Ahead, hours: Hours, yard: Yard, baths: Sequence[BathDay]) -> DayGiven:
    fruit_kg, litres = float(ahead.pressed_kg), ahead.juice.expected
    plans = [one.plans for one in baths if one.plans]
    share = min(1.0, float(ahead.litres.get(Use.HEATED, Decimal(0))) / litres)
    return DayGiven(
        fruit_kg=fruit_kg,
        juice_litres=min(litres, fruit_kg),
        helpers=hours.helpers,
        cheese_kg=min(max(yard.cheese_kg, fruit_kg / MOST_CHEESES), 2000.0),
        heat=heat_stage(plans, share=share) if plans else None,
        pace=yard.paces,
        stations=yard.stations,
    )


def _missing(ahead: Ahead, yard: Yard) -> tuple[MachineKind, ...]:
    there = {
        MachineKind.MILL: yard.mills,
        MachineKind.PRESS: yard.presses,
        MachineKind.PASTEURISER: yard.baths or not ahead.litres.get(Use.HEATED),
    }
    return tuple(kind for kind, machines in there.items() if not machines)


def _as_usual(machines: Sequence[Machine]) -> tuple[tuple[Machine, tuple[str, ...]], ...]:
    found = []
    for machine in machines:
        names = tuple(name for name in FIGURES_USED.get(machine.kind, ()) if getattr(machine, name) is None)
        if names:
            found.append((machine, names))
    return tuple(found)
