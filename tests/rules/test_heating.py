"""Heating times against an integrated balance, and the fit against one made up and against scipy."""

import random
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from kitshare.rules import heating, heating_fit
from kitshare.rules.heat import HeatLog
from kitshare.rules.heating import Bottle, Heater, Load, Pasteuriser
from kitshare.rules.water import OutOfRange

LOAD = Load(water_litres=40, juice_litres=30, glass_kg=20)
BATH = Pasteuriser(heater=Heater(kw=3, loss_w_per_k=10), water_litres=30, bottles=28)
BOTTLE = Bottle(juice_litres=0.72, glass_kg=0.5)


def by_integration(load: Load, heater: Heater, from_c: float, to_c: float, air_c: float) -> float:
    def slope(_: float, t: list[float]) -> list[float]:
        return [(heater.kw - heater.loss_w_per_k / 1000 * (t[0] - air_c)) / load.kj_per_k(min(t[0], 95.0))]

    def there(_: float, t: list[float]) -> float:
        return t[0] - to_c

    there.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slope, (0, 1e7), [from_c], events=there, rtol=1e-8, max_step=2000)
    return float(found.t_events[0][0]) / 60


@pytest.mark.parametrize("loss", [0.0, 5.0, 25.0])
@pytest.mark.parametrize(("from_c", "to_c"), [(10, 78), (52, 78), (5, 60)])
def test_heating_up_takes_what_the_balance_integrates_to(loss: float, from_c: float, to_c: float) -> None:
    heater = Heater(kw=3, loss_w_per_k=loss)

    found = heating.minutes_to_reach(LOAD, heater, from_c=from_c, to_c=to_c, air_c=12)

    assert found == pytest.approx(by_integration(LOAD, heater, from_c, to_c, 12), rel=0.005)


@pytest.mark.parametrize(
    ("celsius", "water", "juice"),
    [
        (20, 40 * 0.99821 * 4.1848, 30 * 1.0465 * (0.88 * 4.1766 + 0.12 * 1.5857)),
        (75, 40 * 0.97486 * 4.1915, 30 * 1.0230 * (0.88 * 4.2002 + 0.12 * 1.6626)),
    ],
)
def test_a_load_takes_up_heat_as_the_tables_say(celsius: float, water: float, juice: float) -> None:
    """Kilograms in a litre times kJ/(kg K): water by IAPWS-IF97, juice of 12 Bx by the sucrose table and Choi and Okos
    (1986), which give water 4.1766 and carbohydrate 1.5857 at 20 C; glass 0.84 (handbook, from memory).
    """
    assert Load(water_litres=40).kj_per_k(celsius) == pytest.approx(water, rel=1e-4)
    assert Load(juice_litres=30).kj_per_k(celsius) == pytest.approx(juice, rel=1e-3)
    assert LOAD.kj_per_k(celsius) == pytest.approx(water + juice + 20 * 0.84, rel=1e-3)


def test_losses_lengthen_the_rise_as_newtons_law_of_cooling_says() -> None:
    """Solved: t = C / U ln((P - U (from - air)) / (P - U (to - air))), over C (to - from) / P without losses."""
    plain, lossy = (
        heating.minutes_to_reach(LOAD, Heater(kw=3, loss_w_per_k=loss), from_c=10, to_c=78, air_c=15)
        for loss in (0, 25)
    )

    assert lossy / plain == pytest.approx(3 / (0.025 * 68) * np.log((3 + 0.025 * 5) / (3 - 0.025 * 63)), rel=1e-9)


@pytest.mark.parametrize("to_c", [65, 75])
def test_a_heater_too_weak_says_where_it_stops(to_c: float) -> None:
    with pytest.raises(heating.NeverReached, match=r"no further than 65\.0 C") as refused:
        heating.minutes_to_reach(LOAD, Heater(kw=1, loss_w_per_k=20), from_c=10, to_c=to_c, air_c=15)

    assert refused.value.settles_at_c == pytest.approx(65)
    assert Heater(kw=1, loss_w_per_k=0).settles_at(15) == inf


def test_what_is_hot_needs_no_heating() -> None:
    assert heating.minutes_to_reach(LOAD, Heater(kw=1), from_c=80, to_c=75) == 0
    assert heating.minutes_to_reach(LOAD, Heater(kw=0.1, loss_w_per_k=100), from_c=75, to_c=75) == 0


@given(st.floats(10, 40), st.floats(1, 50), st.floats(1, 6), st.floats(0.1, 2))
@settings(deadline=None)
def test_more_to_heat_takes_longer_and_more_power_less(from_c: float, rise: float, kw: float, more: float) -> None:
    heater = Heater(kw=kw, loss_w_per_k=5)
    larger = Load(water_litres=40 + more, juice_litres=30, glass_kg=20)
    to_c = min(from_c + rise, 90)

    plain = heating.minutes_to_reach(LOAD, heater, from_c=from_c, to_c=to_c)

    assert heating.minutes_to_reach(larger, heater, from_c=from_c, to_c=to_c) > plain
    stronger = Heater(kw=kw + more, loss_w_per_k=5)
    assert heating.minutes_to_reach(LOAD, stronger, from_c=from_c, to_c=to_c) < plain


def test_the_middle_of_the_bottle_catches_up_as_integrated() -> None:
    rise_minutes, rise_k, lag, margin = 60.0, 68.0, 11.0, 3.0

    def slope(minute: float, t: list[float]) -> list[float]:
        return [(min(rise_k, rise_k * minute / rise_minutes) - t[0]) / lag]

    def there(_: float, t: list[float]) -> float:
        return t[0] - (rise_k - margin)

    there.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slope, (0, 1000), [0.0], events=there, rtol=1e-9, max_step=1)

    minutes = heating.catch_up_minutes(rise_minutes=rise_minutes, rise_k=rise_k, lag=lag, margin_k=margin)
    assert rise_minutes + minutes == pytest.approx(found.t_events[0][0], abs=0.01)


def test_a_slow_rise_leaves_nothing_to_catch_up() -> None:
    assert heating.catch_up_minutes(rise_minutes=600, rise_k=60, lag=10) == 0
    assert heating.catch_up_minutes(rise_minutes=0, rise_k=60, lag=10) == pytest.approx(10 * np.log(60 / 3))
    quick = heating.catch_up_minutes(rise_minutes=1, rise_k=60, lag=10)
    assert quick == pytest.approx(10 * np.log(600 * (1 - np.exp(-0.1)) / 3))


def test_large_bottles_lag_more() -> None:
    assert heating.lag_minutes(0.75) == pytest.approx(10)
    assert heating.lag_minutes(6) == pytest.approx(20)


@pytest.mark.parametrize(("bath_c", "shock"), [(52, False), (52.1, True), (-32.1, True)])
def test_glass_bears_forty_two_kelvin(bath_c: float, shock: bool) -> None:
    assert heating.glass_shock(bath_c=bath_c, bottle_c=10) is shock


def test_batches_hold_every_bottle() -> None:
    plan = heating.plan_batches(bottles=300, bottle=BOTTLE, bath=BATH)

    assert plan.batches == 11
    assert plan.bottles_in_last == 300 - 10 * 28
    assert plan.bath_c == 78
    assert plan.first.hold == plan.later.hold == 20
    assert plan.first.total == plan.first.heat_up + plan.first.catch_up + 20


def test_a_later_batch_starts_as_warm_as_glass_bears() -> None:
    plan = heating.plan_batches(bottles=300, bottle=BOTTLE, bath=BATH, fill_c=10)

    assert plan.cool_bath_first
    assert plan.later.bath_from_c == 52
    assert plan.later.heat_up < plan.first.heat_up


def test_warm_bottles_may_go_straight_into_the_hot_bath() -> None:
    plan = heating.plan_batches(bottles=28, bottle=BOTTLE, bath=BATH, fill_c=40)

    assert not plan.cool_bath_first
    assert plan.later.bath_from_c == 78


def test_what_cannot_crack_goes_into_the_bath_as_it_is():
    plan = heating.plan_batches(bottles=300, bottle=Bottle(juice_litres=0.72, glass_kg=0, cracks=False), bath=BATH)

    assert not plan.cool_bath_first
    assert plan.later.bath_from_c == plan.bath_c == 78


def test_a_tenth_is_added_to_the_heating_and_not_to_the_hold() -> None:
    plan = heating.plan_batches(bottles=28, bottle=BOTTLE, bath=BATH)
    load = Load(water_litres=30, juice_litres=28 * 0.72, glass_kg=14)

    bare = heating.minutes_to_reach(load, BATH.heater, from_c=10, to_c=78)
    behind = heating.catch_up_minutes(rise_minutes=bare, rise_k=68, lag=heating.lag_minutes(0.72))

    assert plan.first.heat_up == pytest.approx(1.1 * bare)
    assert plan.first.catch_up == pytest.approx(1.1 * behind)
    in_frost = heating.plan_batches(bottles=28, bottle=BOTTLE, bath=BATH, air_c=-5)
    frosty = heating.minutes_to_reach(load, BATH.heater, from_c=10, to_c=78, air_c=-5)
    assert in_frost.first.heat_up == pytest.approx(1.1 * frosty)


def made_up(kw: float, loss: float, noise: float, seed: int) -> HeatLog:
    dice = random.Random(seed)
    minutes, celsius, at = [], [], 12.0
    for second in range(0, 120 * 60, 10):
        if second % 120 == 0:
            minutes.append(second / 60)
            celsius.append(at + dice.gauss(0, noise))
        at += 10 * (kw - loss / 1000 * (at - 15)) / 250
    return HeatLog(minutes=tuple(minutes), celsius=tuple(celsius))


@pytest.mark.parametrize(("kw", "loss"), [(2.5, 0.0), (2.5, 16.0), (3.0, 25.0)])
def test_a_fit_finds_the_heater_that_made_the_record(kw: float, loss: float) -> None:
    found = heating_fit.fitted(made_up(kw, loss, 0, 1), kj_per_k=250, air_c=15)

    assert found.heater.kw == pytest.approx(kw, rel=0.01)
    assert found.heater.loss_w_per_k == pytest.approx(loss, abs=0.6)
    assert found.strays_k < 0.05


def warmed(kw: float, loss: float, *, air_c: float, kj_per_k: float = 250.0) -> HeatLog:
    """By the solved balance, a reading each minute from 100 to 340: T = end + (start - end) exp(-U t / C)."""
    end = air_c + 1000 * kw / loss
    curve = [end + (12 - end) * np.exp(-loss * 60 * minute / 1000 / kj_per_k) for minute in range(241)]
    return HeatLog(minutes=tuple(100.0 + m for m in range(241)), celsius=tuple(map(float, curve)))


@pytest.mark.parametrize("air_c", [-5.0, 15.0])
def test_a_fit_of_exact_readings_is_exact(air_c: float) -> None:
    record = warmed(2.5, 16, air_c=air_c)
    found = heating_fit.fitted(record, kj_per_k=250, air_c=air_c)

    assert (found.heater.kw, found.heater.loss_w_per_k) == pytest.approx((2.5, 16), rel=1e-4)
    if air_c == 15:
        assert heating_fit.fitted(record, kj_per_k=250) == found


def test_the_columns_of_a_fit_are_sums_that_can_be_done_on_paper() -> None:
    record = HeatLog(minutes=(100.0, 101.0, 103.0), celsius=(20.0, 22.0, 25.0))

    seconds, area, rise = heating_fit.HeatedUp(log=record, kj_per_k=10).columns()

    assert (seconds, area, rise) == ([0, 6, 18], [0, 36, 138], [0, 2, 5])


def test_where_nearly_level_readings_tell_no_losses_the_heater_has_none() -> None:
    """Then the power is the slope through the start: 1.8 x 0.001 / (0.6^2 + 1.2^2 + 1.8^2), in seconds over capacity."""
    record = HeatLog(minutes=(0.0, 10.0, 20.0, 30.0), celsius=(50.0, 50.0, 50.0, 50.001))

    found = heating_fit.fitted(record, kj_per_k=1e6)

    assert (found.heater.kw, found.heater.loss_w_per_k) == (pytest.approx(1000 * 0.0018 / 5.04), 0)


def test_a_fit_of_noisy_readings_predicts_like_scipys() -> None:
    record = made_up(2.5, 16, 0.4, 2)

    def curve(minute, kw, loss):  # type: ignore[no-untyped-def]
        end = 15 + 1000 * kw / loss
        return end + (record.celsius[0] - end) * np.exp(-loss * minute * 60 / 1000 / 250)

    (kw, loss), _ = curve_fit(curve, record.minutes, record.celsius, p0=(2, 10))
    found = heating_fit.fitted(record, kj_per_k=250, air_c=15)

    load = Load(water_litres=60)
    ours = heating.minutes_to_reach(load, found.heater, from_c=12, to_c=75)
    assert ours == pytest.approx(
        heating.minutes_to_reach(load, Heater(kw=kw, loss_w_per_k=loss), from_c=12, to_c=75), rel=0.05
    )
    assert 0.2 < found.strays_k < 0.8


def test_a_bottles_record_tells_of_the_heater_only_while_it_rises_freely() -> None:
    """After three lags (30 minutes), up to eight degrees short of the target."""
    record = HeatLog(minutes=tuple(float(m) for m in range(0, 80, 10)), celsius=(10, 12, 18, 30, 45, 60, 67, 68))

    found = heating_fit.rising(record, lag=10.0, target_c=75.0)

    assert found == HeatLog(minutes=(30.0, 40.0, 50.0, 60.0), celsius=(30, 45, 60, 67))


def test_a_record_that_turns_ends_there_and_noise_is_no_turn() -> None:
    record = HeatLog(minutes=(20.0, 30.0, 40.0, 50.0, 60.0), celsius=(30.0, 40.0, 39.5, 50.0, 48.0))

    found = heating_fit.rising(record, lag=0.0, target_c=75.0)

    assert found.celsius == (30.0, 40.0, 39.5, 50.0)
    by_a_kelvin = HeatLog(minutes=(20.0, 30.0, 40.0, 50.0), celsius=(30.0, 40.0, 39.0, 50.0))
    assert heating_fit.rising(by_a_kelvin, lag=0.0, target_c=75.0) == by_a_kelvin


@pytest.mark.parametrize(
    "record",
    [
        HeatLog(minutes=(), celsius=()),
        HeatLog(minutes=(0.0, 1.0, 2.0), celsius=(10.0, 11.0, 12.0)),
        HeatLog(minutes=(0.0, 1.0, 2.0, 3.0), celsius=(12.0, 11.0, 11.0, 12.0)),
    ],
)
def test_a_record_that_tells_nothing_is_refused(record: HeatLog) -> None:
    with pytest.raises(heating_fit.FitImpossible):
        heating_fit.fitted(record, kj_per_k=250)


def test_a_record_that_speeds_up_has_no_losses() -> None:
    record = HeatLog(minutes=(0.0, 10.0, 20.0, 30.0), celsius=(10.0, 11.0, 13.0, 17.0))

    assert heating_fit.fitted(record, kj_per_k=250).heater.loss_w_per_k == 0


def test_a_second_heater_adds_its_power() -> None:
    both = heating.with_second_heater(BATH, Heater(kw=2))

    assert both.heater == Heater(kw=5, loss_w_per_k=10)
    assert both.bottles == 28


@pytest.mark.parametrize(
    "call",
    [
        lambda: Heater(kw=0),
        lambda: Heater(kw=2, loss_w_per_k=-1),
        lambda: Load(),
        lambda: Load(water_litres=5001),
        lambda: Pasteuriser(heater=Heater(kw=2), water_litres=30, bottles=0),
        lambda: heating.minutes_to_reach(LOAD, Heater(kw=2), from_c=-1, to_c=75),
        lambda: heating.minutes_to_reach(LOAD, Heater(kw=2), from_c=10, to_c=96),
        lambda: heating.minutes_to_reach(LOAD, Heater(kw=2), from_c=10, to_c=75, air_c=60),
        lambda: heating.plan_batches(bottles=0, bottle=BOTTLE, bath=BATH),
        lambda: heating.plan_batches(bottles=1, bottle=BOTTLE, bath=BATH, target_c=91),
        lambda: heating.lag_minutes(0),
    ],
)
def test_nonsense_is_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange):
        call()
