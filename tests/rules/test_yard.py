"""The yard: what its machines make of the day."""

import pytest

from kitshare.rules.heating import Bottle, Heater, NeverReached
from kitshare.rules.pressday import DayGiven, Station, plan_day
from kitshare.rules.yard import Bath, Mill, Press, ToHeat, Yard, bath_plan, heat_stage

BOTTLE = Bottle(juice_litres=0.72, glass_kg=0.5)


def bottles(litres: float) -> ToHeat:
    return ToHeat(key="bottle", brim_litres=0.75, bottle=BOTTLE, juice_litres=litres)


def planned(bath: Bath, litres: float = 200.0):
    return bath_plan(bath, bottles(litres), target_c=75.0, hold_minutes=20.0)


@pytest.mark.parametrize(
    ("yard", "stations"),
    [
        (Yard(), ()),
        (Yard(mills=(Mill(),)), ("wash", "mill")),
        (Yard(presses=(Press(),)), ("wash", "press", "fill")),
        (Yard(baths=(Bath(),)), ("fill",)),
        (Yard(mills=(Mill(),), presses=(Press(),)), ("wash", "mill", "press", "fill")),
        (Yard(mills=(Mill(),), baths=(Bath(),)), ("wash", "mill", "fill")),
    ],
)
def test_a_station_works_where_its_machine_is(yard, stations):
    assert yard.stations == stations


def test_two_mills_do_together_what_each_does():
    pace = Yard(mills=(Mill(kg_per_hour=300), Mill(kg_per_hour=100))).paces[Station.MILL]

    assert pace.machines * pace.machine_kg_per_hour == 400
    assert pace.most_hands == 4


def test_a_mill_turned_by_hand_keeps_a_pair_of_hands_as_long_as_it_runs():
    by_hand = Yard(mills=(Mill(kg_per_hour=80, by_hand=True),)).paces[Station.MILL]
    electric = Yard(mills=(Mill(kg_per_hour=80),)).paces[Station.MILL]

    assert by_hand.hand_minutes(400) == by_hand.machine_minutes(400) == 300
    assert electric.hand_minutes(400) == 48


def test_presses_without_figures_are_the_usual_ones():
    assert Yard(presses=(Press(),)).cheese_kg == 40
    assert Yard(presses=(Press(cheese_kg=20), Press())).cheese_kg == 30
    assert Yard(presses=(Press(),)).paces[Station.PRESS].machine_kg_per_hour == 160


def test_a_rack_takes_other_bottles_by_volume():
    assert [Bath(rack=72).bottles_of(litres) for litres in (0.75, 0.5, 1.0, 5.0, 60.0)] == [72, 108, 54, 10, 1]


def test_unlike_baths_heat_together_what_each_heats():
    large, small = planned(Bath()), planned(Bath(heater=Heater(kw=2.5), water_litres=30, rack=28))

    both = heat_stage([[large], [small]], share=1.0)

    an_hour = [plan.litres / plan.batches.later.total for plan in (large, small)]
    assert both.pasteurisers * both.kinds[0].litres_per_batch / both.kinds[0].later_minutes == pytest.approx(
        sum(an_hour)
    )
    alone = heat_stage([[large]], share=0.5)
    assert (alone.kinds[0].litres_per_batch, alone.kinds[0].later_minutes, alone.share) == (
        pytest.approx(large.litres),
        pytest.approx(large.batches.later.total),
        0.5,
    )


def test_no_more_than_twenty_of_one_sort_and_fifty_hands_are_planned_with():
    press = Yard(presses=(Press(),) * 21).paces[Station.PRESS]

    assert (press.machines, press.most_hands) == (20, 50)
    assert heat_stage([[planned(Bath())]] * 21, share=1.0).pasteurisers == 20


def test_a_bath_is_planned_with_its_own_rack_target_and_hold():
    bath = Bath()
    plan = bath_plan(bath, bottles(0), target_c=80.0, hold_minutes=30.0)

    assert (plan.bath, plan.kind, plan.litres) == (bath, bottles(0), 72 * 0.72)
    assert (plan.bottles, plan.batches.bottles_in_last) == (72, 1)
    assert (plan.batches.bath_c, plan.batches.first.hold) == (83, 30)


def test_the_first_bath_is_the_cold_one():
    plan = planned(Bath())
    stage = heat_stage([[plan]], share=1.0)

    assert stage.kinds[0].first_minutes == pytest.approx(plan.batches.first.total)
    assert stage.kinds[0].first_minutes > stage.kinds[0].later_minutes + 20


def test_the_last_bottle_that_finds_no_room_is_a_batch_of_its_own():
    assert planned(Bath(), litres=72 * 0.72).batches.batches == 1
    assert planned(Bath(), litres=72 * 0.72 + 0.1).batches.batches == 2


def test_a_bath_too_weak_says_where_it_stops():
    with pytest.raises(NeverReached):
        planned(Bath(heater=Heater(kw=0.9)))


def test_a_mill_alone_mills_and_nothing_is_filled_or_heated():
    yard = Yard(mills=(Mill(kg_per_hour=200),))
    plan = plan_day(
        DayGiven(fruit_kg=400, juice_litres=220, helpers=4, stations=yard.stations, pace=yard.paces, cheese_kg=40)
    )

    assert {bar.station for bar in plan.bars} == {"wash", "mill", "clean"}
    assert plan.bottleneck is Station.MILL
    assert plan.pressed_at == max(bar.end for bar in plan.bars if bar.station is Station.MILL)
    assert sum(bar.amount for bar in plan.bars if bar.station is Station.MILL) == 400


def test_a_pasteuriser_alone_fills_and_heats_juice_that_is_there():
    plan = plan_day(
        DayGiven(
            fruit_kg=400,
            juice_litres=220,
            helpers=2,
            stations=(Station.FILL,),
            heat=heat_stage([[planned(Bath())]], share=1.0),
        )
    )

    assert {bar.station for bar in plan.bars} == {"fill", "heat", "clean"}
    assert plan.pressed_at == plan.given.set_up_minutes
    assert sum(bar.amount for bar in plan.bars if bar.station is Station.HEAT) == pytest.approx(220)
