"""Every bound of the rules of the press day, of the shelf and of wear, at its two ends: there it is taken, a hair beyond it is refused by its name."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from math import inf, nan, nextafter
from typing import Any, NamedTuple

import pytest

from kitshare.rules import (
    containers,
    crew,
    daylight,
    due_by_use,
    heat_verdict,
    heating,
    probes,
    stocking,
    student_t,
    water,
    wear,
    yields,
)
from kitshare.rules.due_by_use import Used
from kitshare.rules.heat import HeatLog
from kitshare.rules.heating_fit import HeatedUp
from kitshare.rules.pressday import DayGiven, HeatStage, KindInBath, Pace, plan_day
from kitshare.rules.water import OutOfRange

LOG = HeatLog(minutes=(0.0, 1.0), celsius=(20.0, 21.0))
HEATER = heating.Heater(kw=3)
BATH = heating.Pasteuriser(heater=HEATER, water_litres=40, bottles=20)
BOTTLE = heating.Bottle(juice_litres=0.7, glass_kg=0.4)
IN_BATH = KindInBath(litres_per_batch=20, litres_each=0.05, first_minutes=90, later_minutes=60)
HEAT = HeatStage(kinds=(IN_BATH,))
DAY = DayGiven(fruit_kg=400, juice_litres=220, helpers=6)
PLAN = plan_day(DAY)
GLASS = containers.Kind(key="glass", litres=Decimal("0.75"), material=containers.Material.GLASS)
PACE = Pace(machine_kg_per_hour=100, hand_kg_per_hour=100)


class Bound(NamedTuple):
    """What is called with a value, how the refusal names it, and between which ends it is taken."""

    name: str
    call: Callable[[Any], object]
    low: float
    high: float


def batches(**changes: Any) -> object:
    return heating.plan_batches(**({"bottles": 40, "bottle": BOTTLE, "bath": BATH} | changes))


def rise(**changes: Any) -> object:
    load = heating.Load(water_litres=1)
    return heating.minutes_to_reach(load, heating.Heater(kw=60), **({"from_c": 10, "to_c": 20} | changes))


def fields(of: Any, **ends: tuple[float, float]) -> list[Bound]:
    """The bounds of a dataclass's fields."""
    return [
        Bound(name, lambda value, name=name: replace(of, **{name: value}), low, high)
        for name, (low, high) in ends.items()
    ]


UNSEEN = due_by_use.Watched(season_days=0, amounts=())
LIVES = [wear.Life(outings=outings, ended=True) for outings in (1, 2, 3)]

WHOLE = {"helpers", "machines", "most_hands", "pasteurisers", "bottles", "outings", "age"}
LEAST, MOST = yields.LEAST_YIELD, yields.MOST_YIELD

BOUNDS = [
    *fields(PACE, machine_kg_per_hour=(1, 20_000), hand_kg_per_hour=(1, 20_000), machines=(1, 20), most_hands=(1, 50)),
    *fields(
        IN_BATH,
        litres_per_batch=(0.25, 5000),
        first_minutes=(1, 1440),
        later_minutes=(1, 1440),
        part=(1e-9, 1),
        litres_each=(0.01, 20 * (1 + 1e-9)),
    ),
    *fields(
        HEAT,
        share=(0, 1),
        pasteurisers=(1, 20),
        hand_minutes=(0, 240),
        cool_minutes=(0, 1440),
    ),
    *fields(
        replace(DAY, juice_litres=0),
        fruit_kg=(0.001, 20_000),
        juice_litres=(0, 400),
        helpers=(1, 200),
        cheese_kg=(5, 2000),
        set_up_minutes=(0, 1440),
        clean_hand_minutes=(0, 10_000),
    ),
    *fields(HEATER, kw=(0.1, 60), loss_w_per_k=(0, 1000)),
    *fields(heating.Load(juice_litres=1), water_litres=(0, 5000), glass_kg=(0, 5000)),
    *fields(heating.Load(water_litres=1), juice_litres=(0, 5000)),
    *fields(BATH, water_litres=(0.1, 2000), bottles=(1, 500)),
    *fields(HeatedUp(log=LOG, kj_per_k=100), kj_per_k=(0.01, 1e6)),
    *fields(yields.PUBLISHED, weight=(1e-12, 1e9), shape=(1e-12, 1e9), scale=(1e-12, 1e9)),
    *fields(yields.PressedDay(litres_per_kg=0.5), litres_per_kg=(LEAST, MOST)),
    *fields(heat_verdict.DEFAULT_RECOMMENDATION, target_c=(50, 100), hold_minutes=(1 / 60, 1440)),
    *fields(stocking.PRIOR, shape=(1e-9, 1e12), seasons=(1e-9, 1e12)),
    *fields(LIVES[0], outings=(1, wear.LONGEST)),
    Bound("amount", lambda v: Used(amount=Decimal(v)), 0, 10_000_000),
    Bound("estimated", lambda v: Used(amount=Decimal(10), estimated=Decimal(v)), 0, 10),
    Bound("every", lambda v: due_by_use.left(Decimal(v), Used(amount=Decimal(0))), 1e-3, 10_000_000),
    Bound("to_go", lambda v: due_by_use.forecast(Decimal(v), UNSEEN, seasons=[], today=date.min), 0, 10_000_000),
    Bound("age", lambda v: wear.remaining(LIVES, age=v), 0, wear.LONGEST),
    Bound("used", lambda v: stocking.PRIOR.learned(used=v, seasons=1), 0, stocking.MOST_USED),
    Bound("seasons", lambda v: stocking.PRIOR.learned(used=1, seasons=v), 0.01, 100),
    Bound("lead_days", lambda v: stocking.horizon_seasons(lead_days=v, season_days=90), 0, 730),
    Bound("season_days", lambda v: stocking.horizon_seasons(lead_days=1, season_days=v), 7, 366),
    Bound("horizon", lambda v: stocking.keep(horizon=v), 0.01, 110),
    Bound("chance", lambda v: stocking.keep(chance=v), 0.001, 0.5),
    Bound("from_c", lambda v: rise(from_c=v, to_c=0), 0, 95),
    Bound("to_c", lambda v: rise(to_c=v, from_c=95), 0, 95),
    Bound("air_c", lambda v: rise(air_c=v), -30, 50),
    Bound("bottle_litres", heating.lag_minutes, 0.05, 30),
    Bound("bottles", lambda v: batches(bottles=v), 1, 100_000),
    Bound("target_c", lambda v: batches(target_c=v), 50, 90),
    Bound("hold_minutes", lambda v: batches(hold_minutes=v), 0, 1440),
    Bound("fill_c", lambda v: batches(fill_c=v), 0, 50),
    Bound("heat_c", lambda v: containers.refusals(GLASS, containers.Use.HEATED, heat_c=v, fill_c=0), 0, 95),
    Bound("helpers", lambda v: crew.share_out([], v), 1, crew.MOST_HELPERS),
    Bound("available_minutes", lambda v: daylight.overrun(PLAN, v), 1, 2880),
    Bound("ph", lambda v: heat_verdict.judge(LOG, ph=v), 0, 14),
    Bound("longest_gap_minutes", lambda v: heat_verdict.judge(LOG, longest_gap_minutes=v), 0, 1440),
    Bound("offset_c", probes.known_offset, -15, 15),
    Bound("probability", lambda v: student_t.quantile(v, 4), 0.0001, 0.9999),
    Bound("freedom", lambda v: student_t.quantile(0.9, v), 0.5, 1e6),
    Bound("celsius", water.water_density, 0, 95),
    Bound("celsius", water.water_heat_capacity, 0, 95),
    Bound("celsius", water.juice_heat_capacity, 0, 95),
    Bound("brix", lambda v: water.juice_heat_capacity(20, v), 0, 40),
    Bound("specific gravity", water.brix_from_gravity, 1, 1.179),
    Bound("brix", water.gravity_from_brix, 0, 40),
    Bound("moisture", water.siebel_heat_capacity, 0, 1),
    Bound("brix", water.freezing_growth, 0, 40),
    Bound("altitude_m", water.air_pressure, -500, 5000),
    Bound("pressure_hpa", water.boiling_point, 500, 1100),
    Bound("probability", lambda v: yields.PUBLISHED.interval(v), 0.01, 0.999),
    Bound("expected", lambda v: yields.prior_from_range(low=v, expected=v, high=v), LEAST, MOST),
    Bound("low", lambda v: yields.prior_from_range(low=v, expected=0.5, high=0.6), LEAST, 0.5),
    Bound("high", lambda v: yields.prior_from_range(low=0.4, expected=0.5, high=v), 0.5, MOST),
    Bound("fruit_kg", yields.forecast, 0.001, 20_000),
]  # fmt: skip


@pytest.mark.parametrize("bound", BOUNDS, ids=lambda bound: bound.name)
def test_a_bound_is_taken_and_what_lies_beyond_is_refused_by_its_name(bound: Bound) -> None:
    name, call, low, high = bound
    below, above = (low - 1, high + 1) if name in WHOLE else (nextafter(low, -inf), nextafter(high, inf))

    for value in (low, high):
        call(value)
    for value in (below, above, nan):
        with pytest.raises(OutOfRange, match=name) as refused:
            call(value)
        assert (refused.value.quantity, refused.value.low, refused.value.high) == (name, low, high)


def test_a_load_weighs_something_and_no_more_than_a_yard_lifts() -> None:
    heating.Load(water_litres=0.01)
    heating.Load(water_litres=5000, juice_litres=5000)

    for water_litres in (0.0, 0.009):
        with pytest.raises(OutOfRange, match=r"^litres .* outside 0\.01 to 10000$"):
            heating.Load(water_litres=water_litres)


def test_a_refusal_says_what_was_given_and_what_is_taken() -> None:
    with pytest.raises(OutOfRange, match=r"^brix 41\.5 is outside 0 to 40$") as refused:
        water.freezing_growth(41.5)

    assert refused.value.value == 41.5
