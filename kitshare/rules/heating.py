"""How long a load takes to heat: a planning figure from an energy balance, never a verdict.

A bath with bottles in it is one lump of heat capacity C that gains a power P and loses U to the air for each kelvin:
C dT/dt = P - U (T - air). The middle of a bottle follows the bath with a lag of first order. Powers are kilowatts,
losses watts per kelvin, times minutes.
"""

from dataclasses import dataclass, replace
from math import ceil, exp, inf, log

from kitshare.rules.water import (
    TYPICAL_BRIX,
    juice_density,
    juice_heat_capacity,
    require_between,
    water_density,
    water_heat_capacity,
)

GLASS_KJ_PER_KG_K = 0.84
"""Heat capacity of soda-lime glass (handbook value, from memory)."""

GLASS_SHOCK_K = 42.0
"""Glass may crack where bath and bottle differ by more (soda-lime practice; test of ASTM C149, quoted)."""

TIME_ALLOWANCE = 1.10
"""Tables of the heat capacity of juice differ by a few per cent, kettles by more: a tenth is added (our choice)."""

USUAL_LOSS_W_PER_K = 16.0
"""An unlidded boiler of 100 litres: fits 2.5 kW, 12 to 82 C in about four hours, as seen by a maker of juice."""

MARGIN_K = 3.0
"""The bath is run this much hotter than the target, so that the middle of the bottle gets there (our choice)."""

LAG_MINUTES_750_ML = 10.0
"""Lag of the middle of a 0.75 litre bottle (our choice, no source: measure it with a probe in the middle bottle)."""


class NeverReached(ValueError):
    """The heater balances its losses below the temperature wanted; `settles_at_c` is where it would stop."""

    def __init__(self, settles_at_c: float) -> None:
        super().__init__(f"this heater gets no further than {settles_at_c:.1f} C")
        self.settles_at_c = settles_at_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Heater:
    """A heater as its plate says (0.1 to 60 kW) and what escapes (0 to 1000 W/K). Raises `OutOfRange`."""

    kw: float
    loss_w_per_k: float = USUAL_LOSS_W_PER_K

    def __post_init__(self) -> None:
        """Refuse what is no heater for a yard."""
        require_between("kw", self.kw, 0.1, 60.0)
        require_between("loss_w_per_k", self.loss_w_per_k, 0.0, 1000.0)

    def settles_at(self, air_c: float) -> float:
        """Where gain and loss balance; infinite without loss."""
        return air_c + 1000 * self.kw / self.loss_w_per_k if self.loss_w_per_k else inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What is heated: litres of bath water, litres of juice, kilograms of glass (0 to 5,000 each)."""

    water_litres: float = 0.0
    juice_litres: float = 0.0
    glass_kg: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a load that weighs nothing or more than a yard can lift, with `OutOfRange`."""
        for name in ("water_litres", "juice_litres", "glass_kg"):
            require_between(name, getattr(self, name), 0.0, 5000.0)
        require_between("litres", self.water_litres + self.juice_litres, 0.01, 10_000.0)

    def water_kj_per_k(self, celsius: float) -> float:
        """Heat capacity of the bath water."""
        return self.water_litres * water_density(celsius) * water_heat_capacity(celsius)

    def bottles_kj_per_k(self, celsius: float) -> float:
        """Heat capacity of the juice and its bottles."""
        juice = self.juice_litres * juice_density(celsius, TYPICAL_BRIX) * juice_heat_capacity(celsius)
        return juice + self.glass_kg * GLASS_KJ_PER_KG_K

    def kj_per_k(self, celsius: float) -> float:
        """Heat capacity of the whole at a temperature of 0 to 95 C."""
        return self.water_kj_per_k(celsius) + self.bottles_kj_per_k(celsius)


def minutes_to_reach(load: Load, heater: Heater, *, from_c: float, to_c: float, air_c: float = 15.0) -> float:
    """Minutes in which the load rises from one temperature to another (0 to 95 C), by the balance above; 0 if it is
    there.

    Heat capacities are taken at the middle of the rise. Raises `NeverReached`, `OutOfRange`.
    """
    for name, celsius in (("from_c", from_c), ("to_c", to_c)):
        require_between(name, celsius, 0.0, 95.0)
    require_between("air_c", air_c, -30.0, 50.0)
    if to_c <= from_c:
        return 0.0
    if heater.settles_at(air_c) <= to_c:
        raise NeverReached(heater.settles_at(air_c))
    capacity = load.kj_per_k((from_c + to_c) / 2)
    loss_kw = heater.loss_w_per_k / 1000
    if loss_kw < 1e-9:
        return capacity * (to_c - from_c) / heater.kw / 60
    gain_first = heater.kw - loss_kw * (from_c - air_c)
    gain_last = heater.kw - loss_kw * (to_c - air_c)
    return capacity / loss_kw * log(gain_first / gain_last) / 60


def lag_minutes(bottle_litres: float) -> float:
    """Lag of the middle of a bottle, growing with its radius, that is with the cube root of its volume.

    For 0.05 to 30 litres; raises `OutOfRange`.
    """
    require_between("bottle_litres", bottle_litres, 0.05, 30.0)
    return float(LAG_MINUTES_750_ML * (bottle_litres / 0.75) ** (1 / 3))


def catch_up_minutes(*, rise_minutes: float, rise_k: float, lag: float, margin_k: float = MARGIN_K) -> float:
    """Minutes for which the bath is kept at its temperature until the middle of the bottle is only margin_k behind.

    During a straight rise the middle falls behind by rate * lag * (1 - exp(-t / lag)); then the difference fades with
    the same lag.
    """
    during_rise = lag / rise_minutes * (1 - exp(-rise_minutes / lag)) if rise_minutes > 0 else 1.0
    behind = rise_k * during_rise
    return lag * log(behind / margin_k) if behind > margin_k else 0.0


def glass_shock(*, bath_c: float, bottle_c: float) -> bool:
    """Whether bath and bottle differ by more than glass is made for."""
    return abs(bath_c - bottle_c) > GLASS_SHOCK_K


@dataclass(frozen=True, slots=True, kw_only=True)
class Pasteuriser:
    """A bath: its heater, litres of water with the rack in it, and the bottles it takes (1 to 500)."""

    heater: Heater
    water_litres: float
    bottles: int

    def __post_init__(self) -> None:
        """Refuse a bath without water or bottles, with `OutOfRange`."""
        require_between("water_litres", self.water_litres, 0.1, 2000.0)
        require_between("bottles", self.bottles, 1, 500)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bottle:
    """What stands in the bath: litres of juice in it (0.05 to 30), kilograms of glass, whether it may crack."""

    juice_litres: float
    glass_kg: float
    cracks: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchMinutes:
    """One batch: the bath heats up, the middle of the bottle catches up, and the hold. `bath_from_c` when it starts."""

    bath_from_c: float
    heat_up: float
    catch_up: float
    hold: float

    @property
    def total(self) -> float:
        """Minutes from bottles in to bottles out."""
        return self.heat_up + self.catch_up + self.hold


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchPlan:
    """How many batches, and how long the first (cold bath) and each later one (warm bath) takes.

    `cool_bath_first` says that the bath would crack cold bottles and must be cooled to `later.bath_from_c` before each
    later batch.
    """

    batches: int
    bottles_in_last: int
    first: BatchMinutes
    later: BatchMinutes
    bath_c: float
    cool_bath_first: bool


def plan_batches(
    *,
    bottles: int,
    bottle: Bottle,
    bath: Pasteuriser,
    target_c: float = 75.0,
    hold_minutes: float = 20.0,
    fill_c: float = 10.0,
    air_c: float = 15.0,
) -> BatchPlan:
    """Plan the batches of full baths for 1 to 100,000 bottles filled at `fill_c`, target 50 to 90 C.

    The bath is run three kelvin over the target. A later batch starts with the bath as hot as the cold bottles stand
    (42 K over them, or as it is where they cannot crack) and mixes with them. A tenth is added to all but the hold.
    Raises `OutOfRange`, `NeverReached`.
    """
    require_between("bottles", bottles, 1, 100_000)
    require_between("target_c", target_c, 50.0, 90.0)
    require_between("hold_minutes", hold_minutes, 0.0, 1440.0)
    require_between("fill_c", fill_c, 0.0, 50.0)
    bath_c = target_c + MARGIN_K
    warm_c = min(bath_c, fill_c + GLASS_SHOCK_K) if bottle.cracks else bath_c
    load = Load(
        water_litres=bath.water_litres,
        juice_litres=bath.bottles * bottle.juice_litres,
        glass_kg=bath.bottles * bottle.glass_kg,
    )

    def batch(bath_from_c: float) -> BatchMinutes:
        start_c = _mixed(load, bath_from_c, fill_c)
        rise = minutes_to_reach(load, bath.heater, from_c=start_c, to_c=bath_c, air_c=air_c)
        behind = catch_up_minutes(rise_minutes=rise, rise_k=bath_c - fill_c, lag=lag_minutes(bottle.juice_litres))
        return BatchMinutes(
            bath_from_c=bath_from_c,
            heat_up=TIME_ALLOWANCE * rise,
            catch_up=TIME_ALLOWANCE * behind,
            hold=hold_minutes,
        )

    batches = ceil(bottles / bath.bottles)
    return BatchPlan(
        batches=batches,
        bottles_in_last=bottles - (batches - 1) * bath.bottles,
        first=batch(fill_c),
        later=batch(warm_c),
        bath_c=bath_c,
        cool_bath_first=bottle.cracks and glass_shock(bath_c=bath_c, bottle_c=fill_c),
    )


def _mixed(load: Load, water_c: float, bottles_c: float) -> float:
    """Where bath water and bottles would meet."""
    water, bottles = load.water_kj_per_k(bottles_c), load.bottles_kj_per_k(bottles_c)
    return (water * water_c + bottles * bottles_c) / (water + bottles)


def with_second_heater(bath: Pasteuriser, other: Heater) -> Pasteuriser:
    """The same bath with another heater hung in beside the first: powers add, losses stay those of the bath."""
    return replace(bath, heater=Heater(kw=bath.heater.kw + other.kw, loss_w_per_k=bath.heater.loss_w_per_k))
