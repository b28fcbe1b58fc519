"""What to bring besides containers, and what is left over.

It follows from the day ahead, the machines booked and the scheme's terms. Where the scheme or a machine has no figure,
the usual one is taken and named as such.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from kitshare.kits.models import Machine, MachineKind
from kitshare.people.models import Scheme
from kitshare.pressdays.planning import Ahead
from kitshare.rules import supplies
from kitshare.rules.containers import FILL_TEMPERATURE_C, Use
from kitshare.rules.pressday import USUAL_PACE, Station
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE
from kitshare.rules.water import juice_heat_capacity, water_heat_capacity
from kitshare.rules.yard import USUAL_BATH_LITRES, USUAL_HEATER

# Common practice and our choice, no source.
USUAL_CLOTHS: Final = 8
USUAL_WATTS: Final = {
    MachineKind.MILL: 2200,
    MachineKind.PRESS: 0,
    MachineKind.PASTEURISER: round(USUAL_HEATER.kw * 1000),
    MachineKind.OTHER: 0,
}
RUN_BY_KG: Final = {MachineKind.MILL: Station.MILL, MachineKind.PRESS: Station.PRESS}

HEATER_SHARE: Final = 0.77
"""Of what a heater draws, this share goes into the bath: 100 litres and 2.5 kW to 80 to 83 C in about four hours, as
seen by a maker of juice; from 12 C, which is assumed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What one machine draws: kilowatts of its plate, or usual ones, and the hours at that."""

    machine: Machine
    kw: Decimal
    hours: Decimal
    usual: bool

    @property
    def kwh(self) -> Decimal:
        return self.kw * self.hours


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Litres of drinking water, by what they are for."""

    washing: Decimal
    cleaning: Decimal
    sanitising: Decimal
    bath: Decimal

    @property
    def litres(self) -> Decimal:
        return self.washing + self.cleaning + self.sanitising + self.bath


@dataclass(frozen=True, slots=True, kw_only=True)
class Provisions:
    """What to bring and what is left. Ascorbic acid is for the juice expected, sacks are for the most pomace."""

    ascorbic: supplies.Ascorbic
    dilution: supplies.Dilution | None
    water: Water
    cloths: int
    cloths_in_cheese: int
    cloths_usual: bool
    pomace_least: supplies.Pomace
    pomace: supplies.Pomace
    pomace_most: supplies.Pomace
    draws: tuple[Draw, ...]
    electricity: supplies.Electricity
    cost: Decimal | None


def provisions_for(ahead: Ahead, *, machines: Sequence[Machine], scheme: Scheme) -> Provisions:
    """Work out what a day needs besides fruit and containers. `machines` are those of its booking."""
    pressed, sack_kg = ahead.pressed_kg, scheme.pomace_sack_kg
    low, expected, high = (
        _litres(bound, pressed) for bound in (ahead.juice.low, ahead.juice.expected, ahead.juice.high)
    )
    water = _water(ahead, machines)
    cloths = [machine.cloths_per_cheese for machine in machines if machine.kind == MachineKind.PRESS]
    in_cheese = max((number or USUAL_CLOTHS for number in cloths), default=USUAL_CLOTHS)
    draws = tuple(_draws(ahead, machines, water.bath))
    loads = {str(draw.machine.pk): (draw.kw, draw.hours) for draw in draws}
    electricity = supplies.electricity(loads, price_per_kwh=scheme.kwh_price or Decimal(0))
    return Provisions(
        ascorbic=supplies.ascorbic_acid(expected),
        dilution=_dilution(scheme),
        water=water,
        cloths=supplies.cloths(cloths_per_cheese=min(in_cheese, 40), cheeses_at_once=max(1, len(cloths))),
        cloths_in_cheese=in_cheese,
        cloths_usual=not any(cloths),
        pomace_least=supplies.pomace(pressed, high, sack_kg=sack_kg),
        pomace=supplies.pomace(pressed, expected, sack_kg=sack_kg),
        pomace_most=supplies.pomace(pressed, low, sack_kg=sack_kg),
        draws=draws,
        electricity=electricity,
        cost=electricity.cost if scheme.kwh_price is not None else None,
    )


def heating_kwh(juice_litres: Decimal, bath_litres: Decimal, *, target_c: float) -> Decimal:
    """Energy to heat so much juice, and the bath once, from a cool day's 10 C, with what escapes on the way."""
    kelvin = target_c - FILL_TEMPERATURE_C
    middle = (target_c + FILL_TEMPERATURE_C) / 2
    juice = float(juice_litres * JUICE_KG_PER_LITRE) * juice_heat_capacity(middle)
    bath = float(bath_litres) * water_heat_capacity(middle)
    return Decimal(str(round((juice + bath) * kelvin / 3600 / HEATER_SHARE, 6)))


def _litres(bound: float, pressed_kg: Decimal) -> Decimal:
    # By rounding, the juice must not come to weigh a hair more than its fruit.
    return min(Decimal(str(round(bound, 6))), pressed_kg / JUICE_KG_PER_LITRE)


def _dilution(scheme: Scheme) -> supplies.Dilution | None:
    if not scheme.sanitiser or scheme.sanitiser_percent is None:
        return None
    return supplies.dilution(supplies.Sanitiser(scheme.sanitiser), strength_percent=scheme.sanitiser_percent)


def _water(ahead: Ahead, machines: Sequence[Machine]) -> Water:
    baths = [machine for machine in machines if machine.kind == MachineKind.PASTEURISER]
    heats = bool(ahead.litres.get(Use.HEATED))
    bath = (
        sum((machine.bath_litres or Decimal(str(USUAL_BATH_LITRES)) for machine in baths), Decimal(0))
        if heats
        else Decimal(0)
    )
    # As `supplies.water_litres` sums it; kept apart here so that a page can say what each part is for.
    return Water(
        washing=ahead.fruit.picked_kg * supplies.WASH_LITRES_PER_KG,
        cleaning=supplies.CLEAN_LITRES,
        sanitising=supplies.SANITISER_LITRES,
        bath=bath,
    )


def _draws(ahead: Ahead, machines: Sequence[Machine], bath_litres: Decimal) -> list[Draw]:
    found = []
    for machine in machines:
        watts = machine.power_watts if machine.power_watts is not None else USUAL_WATTS[MachineKind(machine.kind)]
        alike = sum(1 for other in machines if other.kind == machine.kind)
        hours = _hours(ahead, machine, watts, bath_litres) / alike if watts else Decimal(0)
        if hours:
            kw = Decimal(watts) / 1000
            found.append(
                Draw(machine=machine, kw=kw, hours=min(hours, Decimal(500)), usual=machine.power_watts is None)
            )
    return found


def _hours(ahead: Ahead, machine: Machine, watts: int, bath_litres: Decimal) -> Decimal:
    """Hours of work of all machines of this kind together."""
    kind = MachineKind(machine.kind)
    if kind in RUN_BY_KG:
        usual = USUAL_PACE[RUN_BY_KG[kind]].machine_kg_per_hour or 1.0
        return ahead.pressed_kg / (machine.kg_per_hour or Decimal(str(usual)))
    if kind == MachineKind.PASTEURISER and ahead.litres.get(Use.HEATED):
        kwh = heating_kwh(ahead.litres[Use.HEATED], bath_litres, target_c=ahead.heat.target_c)
        return kwh * 1000 / watts
    return Decimal(0)
