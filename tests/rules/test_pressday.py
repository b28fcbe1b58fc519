"""The press day on a clock."""

from dataclasses import replace
from itertools import pairwise

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.crew import Duty, share_out
from kitshare.rules.daylight import WayOut, most_fruit, overrun, with_pasteurisers
from kitshare.rules.pressday import (
    FLOWING,
    ROOM,
    Bar,
    DayGiven,
    DayPlan,
    HeatStage,
    KindInBath,
    Pace,
    Station,
    plan_day,
)
from kitshare.rules.water import OutOfRange

BOTTLES = KindInBath(key="bottle", litres_per_batch=20, litres_each=0.5, first_minutes=90, later_minutes=60)
HEAT = HeatStage(kinds=(BOTTLES,))
DAY = DayGiven(fruit_kg=400, juice_litres=220, helpers=6, heat=HEAT)

# A cold bath takes so much longer than a warm one whatever stands in it: its water is to be heated once.
kinds_in_bath = st.tuples(
    st.lists(
        st.tuples(st.floats(5, 60), st.floats(0.1, 5), st.floats(20, 100), st.integers(1, 9)), min_size=1, max_size=4
    ),
    st.floats(10, 100),
).map(
    lambda drawn: tuple(
        KindInBath(
            key=f"kind {place}",
            litres_per_batch=max(1, int(litres / each)) * each,
            litres_each=each,
            first_minutes=later + drawn[1],
            later_minutes=later,
            part=weight / sum(kind[3] for kind in drawn[0]),
        )
        for place, (litres, each, later, weight) in enumerate(drawn[0])
    )
)

days = st.builds(
    lambda kg, yields, helpers, cheese, heat, stations: DayGiven(
        fruit_kg=kg, juice_litres=kg * yields, helpers=helpers, cheese_kg=cheese, heat=heat, stations=stations
    ),
    st.floats(1, 1500),
    st.floats(0.2, 0.8),
    st.integers(1, 12),
    st.floats(15, 80),
    st.one_of(
        st.none(),
        st.builds(
            HeatStage,
            kinds=kinds_in_bath,
            share=st.floats(0, 1),
            pasteurisers=st.integers(1, 3),
        ),
    ),
    st.sampled_from([FLOWING, FLOWING[2:], FLOWING[3:], (Station.WASH, Station.MILL, Station.FILL)]),
)


def bars(plan, station: Station):  # type: ignore[no-untyped-def]
    return [bar for bar in plan.bars if bar.station is station]


def test_a_day_by_hand() -> None:
    """Two cheeses, an hour a cheese at the press, everything else half an hour: the sum can be done on paper."""
    quick = {s: Pace(machine_kg_per_hour=80, hand_kg_per_hour=20_000) for s in FLOWING}
    slow_press = {**quick, Station.PRESS: Pace(machine_kg_per_hour=40, hand_kg_per_hour=20_000)}
    plan = plan_day(
        DayGiven(
            fruit_kg=80,
            juice_litres=40,
            helpers=4,
            cheese_kg=40,
            pace=slow_press,
            set_up_minutes=15,
            clean_hand_minutes=80,
        )
    )

    assert [(b.start, b.end) for b in bars(plan, Station.WASH)] == [(15, 45), (45, 75)]
    assert [(b.start, b.end) for b in bars(plan, Station.MILL)] == [(45, 75), (75, 105)]
    assert [(b.start, b.end) for b in bars(plan, Station.PRESS)] == [(75, 135), (135, 195)]
    assert [(b.start, b.end) for b in bars(plan, Station.FILL)] == [(135, 165), (195, 225)]
    assert plan.pressed_at == 195
    assert plan.filled_at == 225
    assert plan.cleaned_at == 245
    assert plan.finish == 245
    assert plan.bottleneck is Station.PRESS
    assert plan.cool_at is plan.last_hot_at is None
    assert plan.longest_wait == 0
    assert plan.bars[-1] == Bar(station=Station.CLEAN, batch=1, start=225, end=245, leave=245, amount=0)
    assert plan.hands == {**dict.fromkeys(FLOWING, 1), Station.HEAT: 0, Station.CLEAN: 4}
    assert plan.busy == {**dict.fromkeys(FLOWING, 60), Station.PRESS: 120, Station.HEAT: 0}


def test_a_bath_that_needs_no_minding_waits_for_nobody_and_one_that_does_takes_one_at_most() -> None:
    unminded, crowded = plan_day(replace(DAY, heat=replace(HEAT, hand_minutes=0))), plan_day(replace(DAY, helpers=50))

    assert [b.end - b.start for b in bars(unminded, Station.HEAT)] == pytest.approx([90, *[60] * 10])
    assert (unminded.hands[Station.HEAT], crowded.hands[Station.HEAT]) == (0, 1)


def test_work_is_told_by_machine_and_hands_stand_at_each() -> None:
    presses = {Station.PRESS: Pace(machine_kg_per_hour=40, hand_kg_per_hour=40, machines=2, most_hands=6)}
    plan = plan_day(DayGiven(fruit_kg=80, juice_litres=40, helpers=2, pace=presses, stations=(Station.PRESS,)))

    assert plan.hands[Station.PRESS] == 2
    assert plan.busy[Station.PRESS] == 60
    assert plan_day(with_pasteurisers(DAY, 2)).busy[Station.HEAT] == pytest.approx((2 * 90 + 9 * 60) / 2)


def test_where_fewer_would_be_as_quick_all_are_counted_in() -> None:
    quick = {s: Pace(machine_kg_per_hour=80, hand_kg_per_hour=20_000) for s in FLOWING}

    plan = plan_day(DayGiven(fruit_kg=80, juice_litres=40, helpers=9, pace=quick, clean_hand_minutes=0))

    assert plan.hands[Station.CLEAN] == 9


@pytest.mark.parametrize(
    ("fruit_kg", "litres", "late"),
    [
        (40, 40, 6),  # 12 minutes of filling, two baths of 12 to mind: the bath has two thirds of the helper
        (400, 20, 12),  # 120 of filling, one bath: an eleventh, but no bath waits for more than the one other station
    ],
)
def test_a_bath_waits_for_the_helper_who_also_fills(fruit_kg: float, litres: float, late: float) -> None:
    alone = DayGiven(fruit_kg=fruit_kg, juice_litres=litres, helpers=1, heat=HEAT, stations=(Station.FILL,))

    baths = bars(plan_day(alone), Station.HEAT)

    assert [b.end - b.start for b in baths] == pytest.approx([90 + late, 60 + late][: len(baths)])
    assert [b.batch for b in baths] == list(range(1, len(baths) + 1))


def test_the_bath_waits_for_its_juice_and_the_bottles_then_cool() -> None:
    plan = plan_day(DAY)
    baths = bars(plan, Station.HEAT)

    assert len(baths) == 11
    assert sum(b.amount for b in baths) == pytest.approx(220)
    assert baths[0].end - baths[0].start == pytest.approx(90)
    assert baths[1].end - baths[1].start == pytest.approx(60)
    assert baths[0].start == bars(plan, Station.FILL)[0].leave
    assert plan.bottleneck is Station.HEAT
    assert plan.last_hot_at is not None
    assert plan.cool_at == plan.last_hot_at + 60
    assert plan.finish == plan.cool_at
    assert plan.start_by(20 * 60) == 20 * 60 - plan.finish


def test_each_bath_is_ready_when_its_own_juice_is_filled() -> None:
    """Three cheeses of 20 litres, baths of 20: the second bath waits for the second cheese, not the third."""
    quick = HeatStage(kinds=(replace(BOTTLES, first_minutes=1, later_minutes=1),))
    plan = plan_day(DayGiven(fruit_kg=120, juice_litres=60, helpers=6, cheese_kg=40, heat=quick))

    assert [b.start for b in bars(plan, Station.HEAT)] == [b.leave for b in bars(plan, Station.FILL)]
    assert plan.longest_wait == 0


def test_a_second_pasteuriser_ends_the_day_sooner() -> None:
    one, two = plan_day(DAY), plan_day(with_pasteurisers(DAY, 2))

    assert two.finish < one.finish
    assert with_pasteurisers(replace(DAY, heat=None), 2).heat is None


def test_long_waits_for_the_heat_are_said() -> None:
    slow = plan_day(replace(DAY, heat=replace(HEAT, kinds=(replace(BOTTLES, later_minutes=120),))))
    quick = plan_day(replace(DAY, heat=replace(HEAT, share=0.1)))

    assert slow.waits_long
    assert not quick.waits_long


def test_more_machines_side_by_side_share_the_cheeses() -> None:
    two = {Station.PRESS: Pace(machine_kg_per_hour=40, hand_kg_per_hour=400, machines=2, most_hands=6)}
    one = {Station.PRESS: Pace(machine_kg_per_hour=40, hand_kg_per_hour=400, machines=1, most_hands=6)}
    many = replace(DAY, heat=None, helpers=14)

    assert plan_day(replace(many, pace=two)).finish < plan_day(replace(many, pace=one)).finish


@given(days)
@settings(deadline=None, max_examples=40)
def test_fruit_and_juice_are_neither_lost_nor_found(day: DayGiven) -> None:
    plan = plan_day(day)

    for station in day.stations:
        assert sum(b.amount for b in bars(plan, station)) == pytest.approx(day.fruit_kg)
    assert sum(b.amount for b in bars(plan, Station.HEAT)) == pytest.approx(day.heated_litres)


@given(days)
@settings(deadline=None, max_examples=40)
def test_no_batch_is_in_two_places_and_no_machine_has_two(day: DayGiven) -> None:
    plan = plan_day(day)

    for number in range(1, len(day.cheeses) + 1):
        mine = [b for s in day.stations for b in bars(plan, s) if b.batch == number]
        assert all(a.leave <= b.start + 1e-9 for a, b in pairwise(mine))
    for station in (Station.WASH, Station.MILL, Station.PRESS, Station.FILL):
        row = bars(plan, station)
        assert all(a.leave <= b.start + 1e-9 for a, b in pairwise(row))
    waiting_room = ROOM[Station.PRESS]
    assert waiting_room == 1
    for bar in bars(plan, Station.MILL):
        if Station.PRESS not in day.stations:
            break
        before_press = [b for b in bars(plan, Station.PRESS) if b.batch < bar.batch and b.leave > bar.leave + 1e-9]
        assert len(before_press) <= 1 + waiting_room


@given(days, st.floats(1, 2))
@settings(deadline=None, max_examples=40)
def test_more_fruit_never_finishes_sooner(day: DayGiven, times: float) -> None:
    more = replace(day, fruit_kg=day.fruit_kg * times, juice_litres=day.juice_litres * times)

    assert plan_day(more).finish >= plan_day(day).finish - 1e-6


@given(days, st.integers(1, 5))
@settings(deadline=None, max_examples=40)
def test_more_helpers_never_finish_later(day: DayGiven, more: int) -> None:
    assert plan_day(replace(day, helpers=day.helpers + more)).finish <= plan_day(day).finish + 1e-6


@given(days)
@settings(deadline=None, max_examples=40)
def test_no_more_hands_are_placed_than_there_are(day: DayGiven) -> None:
    plan = plan_day(day)

    placed = sum(hands for station, hands in plan.hands.items() if station is not Station.CLEAN)
    assert placed <= day.helpers + 1e-9


def simulated_day(day: DayGiven, plan: DayPlan) -> tuple[list[float], list[float]]:
    """When each cheese is filled and each bath is hot, by simpy: people, places and juice as a simulation knows them.

    Hands are taken from the plan; when anything starts, the simulation finds out by itself.
    """
    env = simpy.Environment()
    stages = list(day.stations)
    minutes = {s: {b.batch: b.end - b.start for b in bars(plan, s)} for s in (*stages, Station.HEAT)}
    workers = [simpy.Resource(env, day.paces[s].machines) for s in stages]
    slots = [simpy.Resource(env, 10**6 if ROOM[s] is None else ROOM[s] + day.paces[s].machines) for s in stages]
    juice = simpy.Container(env)
    baths = simpy.Resource(env, day.heat.pasteurisers if day.heat else 1)
    filled, hot = [], []

    def cheese(number: int, kg: float):  # type: ignore[no-untyped-def]
        yield env.timeout(day.set_up_minutes)
        last = None
        for place, stage in enumerate(stages):
            slot = slots[place].request()
            yield slot
            if last:
                for resource, held in last:
                    resource.release(held)
            worker = workers[place].request()
            yield worker
            yield env.timeout(minutes[stage][number])
            last = [(workers[place], worker), (slots[place], slot)]
        for resource, held in last or []:
            resource.release(held)
        filled.append(env.now)
        if day.heated_litres:
            yield juice.put(day.heated_litres * kg / day.fruit_kg)

    def bath(number: int, litres: float):  # type: ignore[no-untyped-def]
        yield juice.get(litres - 1e-6)
        place = baths.request()
        yield place
        yield env.timeout(minutes[Station.HEAT][number])
        baths.release(place)
        hot.append(env.now)

    for number, kg in enumerate(day.cheeses, 1):
        env.process(cheese(number, kg))
    for bar in bars(plan, Station.HEAT):
        env.process(bath(bar.batch, bar.amount))
    env.run()
    return filled, sorted(hot)


@given(days)
@settings(deadline=None, max_examples=30)
def test_the_whole_day_goes_as_simulated(day: DayGiven) -> None:
    plan = plan_day(day)

    filled, hot = simulated_day(day, plan)

    assert filled == pytest.approx([b.leave for b in bars(plan, Station.FILL)])
    assert max(filled) == pytest.approx(plan.filled_at)
    assert hot == pytest.approx(sorted(b.end for b in bars(plan, Station.HEAT)))


# Helpers


def test_one_helper_gives_each_station_the_share_of_its_work() -> None:
    duties = [
        Duty(machine_minutes=0, hand_minutes=30, most_hands=2),
        Duty(machine_minutes=0, hand_minutes=90, most_hands=2),
    ]

    assert share_out(duties, 1) == (0.25, 0.75)


def test_a_further_helper_goes_where_the_work_is_slowest() -> None:
    duties = [
        Duty(machine_minutes=0, hand_minutes=30, most_hands=4),
        Duty(machine_minutes=0, hand_minutes=90, most_hands=4),
    ]

    assert share_out(duties, 4) == (1, 3)


def test_a_further_helper_goes_to_the_slowest_wherever_it_stands_and_to_the_first_at_a_tie() -> None:
    def hands_at(*minutes: float, helpers: int) -> tuple[float, ...]:
        return share_out([Duty(machine_minutes=0, hand_minutes=m, most_hands=4) for m in minutes], helpers)

    assert hands_at(90, 30, helpers=4) == (3, 1)
    assert hands_at(30, 90, 60, helpers=4) == (1, 2, 1)
    assert hands_at(60, 60, helpers=3) == (2, 1)
    assert hands_at(60, 60, helpers=2) == (1, 1)
    assert hands_at(10, 200, helpers=20) == (4, 4)


def test_nobody_stands_where_the_machine_sets_the_pace_or_there_is_no_room() -> None:
    duties = [
        Duty(machine_minutes=100, hand_minutes=50, most_hands=4),
        Duty(machine_minutes=0, hand_minutes=90, most_hands=2),
    ]

    assert share_out(duties, 9) == (1, 2)


def test_neighbours_are_grouped_so_that_the_busiest_has_least() -> None:
    duties = [Duty(machine_minutes=0, hand_minutes=m, most_hands=2) for m in (10, 20, 70)]

    assert share_out(duties, 2) == pytest.approx((1 / 3, 2 / 3, 1))


def test_nobody_is_left_out_where_the_busiest_helper_has_one_station_and_the_first_of_equal_cuts_is_taken() -> None:
    duties = [Duty(machine_minutes=0, hand_minutes=m, most_hands=2) for m in (10, 10, 10, 50)]

    assert share_out(duties, 3) == (1, 0.5, 0.5, 1)


def test_stations_without_work_get_no_hands() -> None:
    idle = Duty(machine_minutes=5, hand_minutes=0, most_hands=1)

    assert share_out([idle], 3) == (0,)
    assert idle.minutes(0) == 5


# When the light goes


def test_a_day_that_fits_leaves_nothing() -> None:
    plan = plan_day(DAY)

    assert overrun(plan, plan.finish) is None


def test_a_day_that_does_not_fit_says_what_is_left_and_what_to_do() -> None:
    plan = plan_day(DAY)
    left = overrun(plan, 480)

    assert left is not None
    assert left.minutes_over == pytest.approx(plan.finish - 480)
    assert left.unheated_litres == pytest.approx(sum(b.amount for b in bars(plan, Station.HEAT) if b.end > 480))
    ways = {o.way: o for o in left.options}
    assert ways[WayOut.FREEZE].amount == left.unheated_litres
    assert ways[WayOut.START_EARLIER].amount == left.minutes_over
    assert ways[WayOut.SECOND_PASTEURISER].amount == plan_day(with_pasteurisers(DAY, 2)).finish
    assert 0 < ways[WayOut.LESS_FRUIT].amount < 400
    assert WayOut.SECOND_DAY not in ways


def test_a_way_out_says_whether_it_is_enough() -> None:
    plan = plan_day(DAY)
    two_baths = plan_day(with_pasteurisers(DAY, 2)).finish

    def ways(available: float) -> dict[WayOut, bool]:
        left = overrun(plan, available)
        assert left is not None
        return {option.way: option.enough for option in left.options}

    assert ways(two_baths)[WayOut.SECOND_PASTEURISER] is True
    assert ways(two_baths - 0.001)[WayOut.SECOND_PASTEURISER] is False
    assert ways(480)[WayOut.START_EARLIER] is True
    assert ways(120)[WayOut.SECOND_DAY] is True
    assert ways(480)[WayOut.LESS_FRUIT] is True
    assert ways(31)[WayOut.LESS_FRUIT] is False


def test_what_is_done_on_the_very_minute_is_not_late() -> None:
    plan = plan_day(DAY)
    baths = bars(plan, Station.HEAT)
    left = overrun(plan, baths[0].end)

    assert left is not None
    assert left.unheated_litres == pytest.approx(sum(bath.amount for bath in baths[1:]))


def test_more_baths_are_of_the_same_kind_and_without_heat_there_are_none() -> None:
    cold = replace(DAY, heat=None)

    assert with_pasteurisers(DAY, 3).heat == replace(HEAT, pasteurisers=3)
    assert with_pasteurisers(cold, 3) is cold


def test_unpressed_fruit_waits_for_a_second_day() -> None:
    plan = plan_day(replace(DAY, heat=None))
    left = overrun(plan, 120)

    assert left is not None
    ways = {o.way: o for o in left.options}
    late = [bar.amount for bar in bars(plan, Station.PRESS) if bar.end > 120]
    assert ways[WayOut.SECOND_DAY].amount == left.unpressed_kg == sum(late) > 0
    assert WayOut.FREEZE not in ways
    assert WayOut.SECOND_PASTEURISER not in ways


def test_freezing_the_rest_is_enough_only_if_the_last_heated_bottles_cool_in_time() -> None:
    plan = plan_day(replace(DAY, heat=replace(HEAT, cool_minutes=30)))
    last_but_one = bars(plan, Station.HEAT)[-2].end

    def freezing(available: float) -> bool:
        left = overrun(plan, available)
        assert left is not None
        return next(o.enough for o in left.options if o.way is WayOut.FREEZE)

    assert not freezing(last_but_one)
    assert not freezing(last_but_one + 29)
    assert freezing(last_but_one + 30)
    long_clean = plan_day(replace(DAY, heat=replace(HEAT, cool_minutes=30), clean_hand_minutes=6_000))
    left = overrun(long_clean, last_but_one + 31)
    assert left is not None
    assert not next(o.enough for o in left.options if o.way is WayOut.FREEZE)


def test_fruit_that_a_mill_alone_does_not_get_through_waits_too() -> None:
    mill_alone = replace(DAY, heat=None, stations=(Station.WASH, Station.MILL))
    left = overrun(plan_day(mill_alone), 60)

    assert left is not None
    assert 0 < left.unpressed_kg < 400
    assert {o.way for o in left.options} == {WayOut.START_EARLIER, WayOut.SECOND_DAY, WayOut.LESS_FRUIT}


@given(days, st.floats(60, 900))
@settings(deadline=None, max_examples=30)
def test_the_most_fruit_fits_and_one_kilogram_more_does_not(day: DayGiven, minutes: float) -> None:
    most = most_fruit(day, minutes)

    def finish(kg: float) -> float:
        return plan_day(replace(day, fruit_kg=kg, juice_litres=day.juice_litres * kg / day.fruit_kg)).finish

    assert most == 0 or finish(most) <= minutes
    assert most + 1 > day.fruit_kg or finish(most + 1) > minutes


@pytest.mark.parametrize("kg", [1, 2, 3, 5, 6, 7, 8, 11, 15, 16, 31, 40])
def test_the_most_fruit_is_found_at_and_beside_the_powers_of_two(kg: int) -> None:
    day = DayGiven(fruit_kg=40, juice_litres=22, helpers=3, cheese_kg=40)
    finish = plan_day(replace(day, fruit_kg=kg, juice_litres=0.55 * kg)).finish

    assert most_fruit(day, finish) == kg


def test_where_there_is_time_for_all_all_of_it_fits() -> None:
    assert most_fruit(DayGiven(fruit_kg=32, juice_litres=17, helpers=3), 2000) == 32


def test_a_single_kilogram_is_a_way_out_too() -> None:
    day = DayGiven(fruit_kg=40, juice_litres=22, helpers=3)
    left = overrun(plan_day(day), plan_day(replace(day, fruit_kg=1, juice_litres=0.55)).finish)

    assert left is not None
    assert [(o.amount, o.enough) for o in left.options if o.way is WayOut.LESS_FRUIT] == [(1, True)]


@pytest.mark.parametrize(
    "call",
    [
        lambda: DayGiven(fruit_kg=0, juice_litres=0, helpers=1),
        lambda: DayGiven(fruit_kg=500_000, juice_litres=1, helpers=1),
        lambda: DayGiven(fruit_kg=10, juice_litres=11, helpers=1),
        lambda: DayGiven(fruit_kg=10, juice_litres=5, helpers=0),
        lambda: DayGiven(fruit_kg=10, juice_litres=5, helpers=1, cheese_kg=1),
        lambda: Pace(machine_kg_per_hour=None, hand_kg_per_hour=0),
        lambda: Pace(machine_kg_per_hour=0.5, hand_kg_per_hour=10),
        lambda: replace(BOTTLES, litres_per_batch=0),
        lambda: replace(HEAT, share=1.1),
        lambda: replace(DAY, stations=()),
        lambda: replace(DAY, stations=(Station.MILL, Station.WASH)),
        lambda: replace(DAY, stations=(Station.WASH, Station.MILL)),
        lambda: overrun(plan_day(DAY), 0),
        lambda: share_out([], 0),
    ],
)
def test_nonsense_is_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange):
        call()


@pytest.mark.parametrize("stations", [(), (Station.MILL, Station.WASH), (Station.HEAT,)])
def test_stations_that_are_none_or_out_of_order_are_refused_by_their_number(stations: tuple[Station, ...]) -> None:
    with pytest.raises(OutOfRange) as refused:
        DayGiven(fruit_kg=10, juice_litres=5, helpers=1, stations=stations)

    given = refused.value
    assert (given.quantity, given.value, given.low, given.high) == ("stations", len(stations), 1, 4)


def test_where_no_machine_sets_the_pace_it_takes_no_time() -> None:
    assert Pace(machine_kg_per_hour=None, hand_kg_per_hour=100).machine_minutes(40) == 0
