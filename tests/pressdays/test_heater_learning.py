"""A heater learned from records: against baths made up by an integrator of their own, with probe, lag and thermostat."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays import heater_learning
from kitshare.pressdays.heater_learning import BatchLog, Learned, batches_of, learn_heater
from kitshare.rules.heat import HeatLog
from kitshare.rules.heating import Heater, Load, lag_minutes

PLATE = Heater(kw=6.0)
WATER = 50.0


def made_up(
    kw: float, loss: float, *, litres: float = 51.8, bottles: int = 72, noise: float = 0.0, bath_c: float = 10.0
) -> BatchLog:
    """A bath of two bodies, water and bottles, whose thermostat holds it at 78: the probe stands in a bottle."""
    load = Load(water_litres=WATER, juice_litres=litres, glass_kg=0.65 * litres)
    water, juice = load.water_kj_per_k(45), load.bottles_kj_per_k(45)
    lag = 60 * lag_minutes(litres / bottles)

    def slope(_: float, t: np.ndarray) -> list[float]:
        flow = juice / lag * (t[0] - t[1])
        gain = (
            kw - loss / 1000 * (t[0] - 15) - flow
            if t[0] < 78
            else min(kw, flow + loss / 1000 * 63) - flow - loss / 1000 * 63
        )
        return [gain / water, flow / juice]

    seconds = np.arange(0, 4 * 3600, 120.0)
    found = solve_ivp(slope, (0, seconds[-1]), [bath_c, 10.0], t_eval=seconds, max_step=30)
    dice = np.random.default_rng(7)
    shown = found.y[1] + dice.normal(0, noise, len(seconds))
    log = HeatLog(minutes=tuple(seconds / 60), celsius=tuple(map(float, shown)))
    return BatchLog(log=log, bottles=bottles, litres=litres, target_c=75.0)


def gain(heater: Heater) -> float:
    """Watts for the bath at 45 degrees, in air of 15."""
    return 1000 * heater.kw - heater.loss_w_per_k * (45 - 15)


@pytest.mark.parametrize("bath_c", [10.0, 52.0])
@pytest.mark.parametrize(("kw", "loss"), [(4.0, 10.0), (6.0, 16.0), (6.0, 30.0)])
def test_records_give_back_the_heating_time_of_the_bath_that_made_them(kw, loss, bath_c):
    """Power and loss trade against each other within so short a rise; the time they predict does not."""
    learned = learn_heater(plate=PLATE, water_litres=WATER, batches=[made_up(kw, loss, bath_c=bath_c)])

    assert gain(learned.heater) == pytest.approx(gain(Heater(kw=kw, loss_w_per_k=loss)), rel=0.03)
    assert learned.records == 1
    assert learned.strays_k < 0.5


def test_noisy_records_together_tell_more_than_the_plate():
    batches = [made_up(3.6, 20.0, noise=0.4), made_up(3.6, 20.0, litres=36.0, bottles=50, noise=0.4)]

    learned = learn_heater(plate=PLATE, water_litres=WATER, batches=batches)

    assert learned.records == 2
    assert learned.heater.kw == pytest.approx(3.6, rel=0.1)
    assert learned.words.startswith("fitted to 2 heat records, which stray by 0.")


def test_without_records_the_plate_counts_and_says_so():
    assert learn_heater(plate=PLATE, water_litres=WATER, batches=[]) == Learned(heater=PLATE)
    assert "no heat record" in Learned(heater=PLATE).words


def test_records_that_cannot_be_of_one_heater_are_left_aside():
    learned = learn_heater(plate=PLATE, water_litres=WATER, batches=[made_up(3.0, 10.0), made_up(9.0, 10.0)])

    assert learned.heater == PLATE
    assert learned.left_aside == 2
    assert "fit neither each other nor the plate" in learned.words


def test_no_heater_gives_more_than_its_plate_whatever_a_record_says():
    """What of 6 kW is a record of, that rises as 9 kW would? Of another bath, or of one that began hot."""
    learned = learn_heater(plate=Heater(kw=6.0), water_litres=WATER, batches=[made_up(9.0, 10.0)])

    assert learned == Learned(heater=Heater(kw=6.0), left_aside=1)


def test_a_short_rise_tells_nothing():
    whole = made_up(4.0, 10.0)
    short = HeatLog(minutes=whole.log.minutes[:24], celsius=whole.log.celsius[:24])
    batch = BatchLog(log=short, bottles=72, litres=51.8, target_c=75.0)

    assert learn_heater(plate=PLATE, water_litres=WATER, batches=[batch]) == Learned(heater=PLATE)


@given(st.lists(st.floats(-40, 300), max_size=30), st.integers(1, 100), st.floats(0.001, 4000))
@settings(max_examples=60)
def test_no_record_whatever_it_shows_breaks_a_plan(celsius, bottles, litres):
    log = HeatLog(minutes=tuple(float(3 * i) for i in range(len(celsius))), celsius=tuple(celsius))
    batch = BatchLog(log=log, bottles=bottles, litres=litres, target_c=75.0)

    learned = learn_heater(plate=PLATE, water_litres=WATER, batches=[batch])

    assert (learned.heater == PLATE) == (learned.records == 0)
    assert learned.records <= 1


def test_a_pasteurisers_own_records_teach_its_heater(record_heat, pasteuriser):
    """A bath of 4 kW made up, its probe typed in by clock time to a tenth of a degree, as a village would."""
    bath = made_up(4.0, 10.0, litres=34.6, bottles=48)
    readings = zip(bath.log.minutes, bath.log.celsius, strict=True)
    text = "\n".join(f"{int(minute) // 60 + 9:02}:{int(minute) % 60:02};{celsius:.1f}" for minute, celsius in readings)
    record_heat(f"Time;Juice (C)\n{text}", bottles=48, litres=Decimal("34.6"))

    learned = learn_heater(plate=PLATE, water_litres=WATER, batches=batches_of([pasteuriser])[pasteuriser.pk])

    assert learned.records == 1
    assert learned.heater.kw - 0.03 * learned.heater.loss_w_per_k == pytest.approx(4.0 - 0.03 * 10.0, rel=0.06)


def test_a_record_that_another_replaced_teaches_nothing(record_heat, pasteuriser):
    wrong = record_heat()
    record_heat(replaces=wrong, why_replaced="The wrong file.")

    assert [len(logs) for logs in batches_of([pasteuriser]).values()] == [1]
    assert batches_of([]) == {}


def test_a_pasteuriser_that_is_used_much_takes_no_records_from_another(
    record_heat, heated, pasteuriser, heron, monkeypatch, django_assert_num_queries
):
    monkeypatch.setattr(heater_learning, "MOST_RECORDS", 2)
    seldom = Machine.objects.create(kit=heron, name="Second pasteuriser", kind=MachineKind.PASTEURISER)
    heated.machines.add(seldom)
    for number in range(1, 7):
        facts = {"pasteuriser": seldom, "probe": None} if number == 1 else {}
        record_heat(number=number, bottles=40 + number, **facts)

    with django_assert_num_queries(1):
        found = batches_of([pasteuriser, seldom])

    assert [log.bottles for log in found[pasteuriser.pk]] == [46, 45]
    assert [log.bottles for log in found[seldom.pk]] == [41]
