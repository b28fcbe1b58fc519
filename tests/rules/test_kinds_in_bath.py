"""Several kinds of container heated on one day: each batch of one kind, with the minutes of that kind."""

from dataclasses import replace
from decimal import Decimal
from itertools import groupby, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.containers import USUAL_KINDS, Use
from kitshare.rules.heating import Bottle, Heater
from kitshare.rules.outlook import Caution, Outlook, Part, outlook
from kitshare.rules.pressday import DayGiven, DayPlan, HeatStage, KindInBath, Station, plan_day
from kitshare.rules.water import OutOfRange
from kitshare.rules.yard import Bath, ToHeat, bath_plan, heat_stage, in_order

KINDS = {kind.key: kind for kind in USUAL_KINDS}
ONE = KindInBath(key="one", litres_per_batch=20, litres_each=0.5, first_minutes=90, later_minutes=60)


def day_of(*kinds: KindInBath, litres: float = 60.0, baths: int = 1, helpers: int = 6) -> DayPlan:
    stage = HeatStage(kinds=kinds, pasteurisers=baths, hand_minutes=0)
    return plan_day(DayGiven(fruit_kg=2 * litres, juice_litres=litres, helpers=helpers, heat=stage))


def mixed(fruit: float, helpers: int = 6, **shares: float) -> Outlook:
    mix = [Part(kind=KINDS[key], use=Use.HEATED, share=Decimal(str(share))) for key, share in shares.items()]
    return outlook(Decimal(str(fruit)), mix=mix, helpers=helpers)


# One kind, as it was


@pytest.mark.parametrize(
    ("fruit", "key", "helpers", "batches", "first_in", "last_out", "finish", "last_litres", "hands", "busy"),
    [
        (400, "bottle_750", 6, 5, 105.0, 661.372149, 721.372149, 13.3312, 1.0, 556.372149),
        (150, "bottle_500", 2, 2, 231.137306, 520.242503, 580.242503, 31.1112, 0.299773, 289.105197),
        (900, "bag_5", 3, 10, 140.888462, 1682.563674, 1742.563674, 45.72, 0.305895, 1541.675212),
        (90, "bottle_1000", 1, 1, 313.155751, 492.799808, 552.799808, 49.5, 0.095198, 179.644057),
        (60, "bottle_500", 4, 1, 93.705959, 250.373194, 310.373194, 33.0, 0.299773, 156.667235),
    ],
)
def test_a_day_of_one_kind_goes_as_it_went_before_kinds_were_told_apart(
    fruit: int,
    key: str,
    helpers: int,
    batches: int,
    first_in: float,
    last_out: float,
    finish: float,
    last_litres: float,
    hands: float,
    busy: float,
) -> None:
    """Figures written down from the rules as they stood before."""
    day = mixed(fruit, helpers, **{key: 1.0}).day
    bars = day.heated

    assert len(bars) == batches
    assert {bar.kind for bar in bars} == {key}
    assert [bars[0].start, bars[-1].end, day.finish, bars[-1].amount] == pytest.approx(
        [first_in, last_out, finish, last_litres], abs=1e-6
    )
    assert [day.hands[Station.HEAT], day.busy[Station.HEAT]] == pytest.approx([hands, busy], abs=1e-6)


def test_unlike_baths_with_one_kind_go_as_they_went_before() -> None:
    """Figures written down from the rules as they stood before."""
    kind = ToHeat(key="b", brim_litres=0.75, bottle=Bottle(juice_litres=0.72, glass_kg=0.5), juice_litres=200)
    baths = [Bath(), Bath(heater=Heater(kw=2.5), water_litres=30, rack=29)]
    stage = heat_stage([[bath_plan(bath, kind, target_c=75.0, hold_minutes=20.0)] for bath in baths], share=0.8)

    day = plan_day(DayGiven(fruit_kg=700, juice_litres=385, helpers=5, heat=stage))

    assert stage.kinds[0].litres_per_batch == pytest.approx(36.36)
    assert [stage.kinds[0].first_minutes, stage.kinds[0].later_minutes] == pytest.approx([138.691531, 111.896586])
    starts = [120, 160, 258.691531, 298.691531, 370.588118, 410.588118, 482.484704, 522.484704, 594.38129]
    assert [bar.start for bar in day.heated] == pytest.approx(starts)
    assert [day.finish, day.longest_wait, day.heated[-1].amount] == pytest.approx([766.277877, 188.381279, 17.12])
    # Racks of 50 bottles and a half on average: no bottle is told twice for it.
    assert [bar.containers for bar in day.heated] == [51, 50, 51, 50, 51, 50, 51, 50, 24]


# Several


def test_a_day_of_two_kinds_by_hand() -> None:
    """30 litres of each: two racks of 20 in bags of 5, two of 25 in bottles of half a litre, a minute a part."""
    bags = KindInBath(key="bag", part=0.5, litres_per_batch=20, litres_each=5, first_minutes=100, later_minutes=80)
    small = KindInBath(key="bottle", part=0.5, litres_per_batch=25, litres_each=0.5, first_minutes=70, later_minutes=50)

    day = day_of(bags, small)
    bars = day.heated

    assert {(bar.kind, bar.containers) for bar in day.bars if bar.station != Station.HEAT} == {("", 0)}
    assert [(bar.batch, bar.kind, bar.amount, bar.containers) for bar in bars] == [
        (1, "bag", 20, 4),
        (2, "bag", 10, 2),
        (3, "bottle", 25, 50),
        (4, "bottle", 5, 10),
    ]
    assert [bar.end - bar.start for bar in bars] == pytest.approx([100, 80, 50, 50])


@pytest.mark.parametrize(
    ("baths", "minutes"), [(1, [100, 80, 50, 50]), (2, [100, 100, 50, 50]), (3, [100, 100, 70, 50])]
)
def test_as_many_batches_find_a_cold_bath_as_there_are_baths(baths: int, minutes: list[float]) -> None:
    bags = KindInBath(key="bag", part=0.5, litres_per_batch=20, litres_each=5, first_minutes=100, later_minutes=80)
    small = replace(bags, key="bottle", litres_per_batch=25, litres_each=0.5, first_minutes=70, later_minutes=50)

    assert [bar.end - bar.start for bar in day_of(bags, small, baths=baths).heated] == pytest.approx(minutes)


def test_what_is_minded_is_every_rack_of_every_kind() -> None:
    """Racks of 20 and of 5 litres, half of 40 litres in each: one and four racks of 12 minutes; filling 12 minutes."""
    kinds = (replace(ONE, part=0.5), replace(ONE, key="two", part=0.5, litres_per_batch=5))
    alone = DayGiven(fruit_kg=40, juice_litres=40, helpers=1, heat=HeatStage(kinds=kinds), stations=(Station.FILL,))

    assert plan_day(alone).hands[Station.HEAT] == pytest.approx(60 / 72)


def test_a_millionth_of_a_container_needs_no_other() -> None:
    small = replace(ONE, litres_per_batch=0.3, litres_each=0.1)

    assert [small.racks(litres) for litres in (0, 0.2, 0.1 + 0.2, 0.3 + 0.9e-7, 0.3 + 1.1e-7)] == [1, 1, 1, 1, 2]
    assert [small.containers(litres) for litres in (0, 0.1, 0.1 + 0.9e-7, 0.1 + 1.1e-7, 0.2)] == [1, 1, 1, 2, 2]


def test_kinds_are_one_to_a_hundred_and_their_parts_a_whole() -> None:
    def stage(number: int, whole: float = 1.0) -> HeatStage:
        return HeatStage(kinds=(replace(ONE, part=whole / max(number, 1)),) * number)

    for number, whole in ((1, 1), (100, 1), (2, 1 - 0.9e-6), (2, 1 + 0.9e-6)):
        assert len(stage(number, whole).kinds) == number
    for number, whole, quantity in (
        (0, 1, "kinds"),
        (101, 1, "kinds"),
        (2, 1 - 1.1e-6, "parts"),
        (2, 1 + 1.1e-6, "parts"),
    ):
        with pytest.raises(OutOfRange) as refused:
            stage(number, whole)
        assert refused.value.quantity == quantity


def test_the_largest_kind_goes_first_and_equals_as_they_come() -> None:
    sizes = {"half": 0.5, "five": 5.0, "litre": 1.0, "other litre": 1.0}
    kinds = [
        ToHeat(key=key, brim_litres=litres, bottle=Bottle(juice_litres=litres, glass_kg=0), juice_litres=10)
        for key, litres in sizes.items()
    ]

    assert [kind.key for kind in in_order(kinds)] == ["five", "litre", "other litre", "half"]


def test_each_kind_has_its_part_its_rack_and_its_own_minutes_in_the_stage() -> None:
    found = mixed(400, bottle_500=0.25, bag_5=0.75)
    large, small = found.baths
    first, second = found.day.given.heat.kinds  # type: ignore[union-attr]

    assert [(kind.key, kind.part) for kind in (first, second)] == [
        ("bag_5", pytest.approx(0.75)),
        ("bottle_500", pytest.approx(0.25)),
    ]
    for kind, bath in ((first, large), (second, small)):
        assert kind.litres_per_batch == pytest.approx(bath.litres)
        assert kind.litres_each == bath.kind.bottle.juice_litres
        assert kind.first_minutes == pytest.approx(bath.batches.first.total)
        assert kind.later_minutes == pytest.approx(bath.batches.later.total)
    assert first.later_minutes > second.later_minutes


def test_two_kinds_of_a_batch_each_ask_for_a_cooler_bath_between_them() -> None:
    found = mixed(60, bottle_500=0.5, bottle_1000=0.5)

    assert [bar.kind for bar in found.day.heated] == ["bottle_1000", "bottle_500"]
    assert (Caution.COOL_BATH_FIRST, "52") in found.warnings
    assert found.water_litres == mixed(60, bottle_500=1).water_litres


weights = st.lists(st.integers(0, 5), min_size=4, max_size=4).filter(any)


@given(st.floats(5, 1200), weights, st.integers(1, 9))
@settings(deadline=None, max_examples=40)
def test_every_bottle_is_in_one_batch_of_its_kind_and_no_batch_is_over_the_rack(
    fruit: float, drawn: list[int], helpers: int
) -> None:
    shares = {
        key: Decimal(w) / sum(drawn)
        for key, w in zip(("bottle_500", "bottle_750", "bottle_1000", "bag_5"), drawn, strict=True)
    }
    mix = [Part(kind=KINDS[key], use=Use.HEATED, share=share) for key, share in shares.items()]

    found = outlook(Decimal(str(fruit)), mix=mix, helpers=helpers)

    bars = found.day.heated
    assert [kind for kind, _ in groupby(bars, key=lambda bar: bar.kind)] == [bath.kind.key for bath in found.baths]
    for bath in found.baths:
        ours = [bar for bar in bars if bar.kind == bath.kind.key]
        litres = found.juice.expected * float(shares[bath.kind.key])
        each = bath.kind.bottle.juice_litres
        assert sum(bar.amount for bar in ours) == pytest.approx(litres)
        assert sum(bar.containers for bar in ours) == -int(-(litres - 1e-6 * each) // each)
        assert all(0 < bar.containers <= bath.bottles for bar in ours)
        assert all(bar.amount <= bar.containers * each * (1 + 1e-6) for bar in ours)
        assert all(bar.containers == bath.bottles for bar in ours[:-1])


@st.composite
def whole_racks(draw: st.DrawFn) -> tuple[list[KindInBath], float]:
    """Kinds, the slowest first, with as much in a rack and whole racks of each, and the litres of all together.

    A cold bath costs each as much more.
    """
    racks = draw(st.lists(st.integers(1, 3), min_size=2, max_size=4))
    cold = draw(st.floats(1, 90))
    minutes = sorted((draw(st.floats(5, 120)) for _ in racks), reverse=True)
    kinds = [
        replace(ONE, key=str(place), part=number / sum(racks), first_minutes=later + cold, later_minutes=later)
        for place, (number, later) in enumerate(zip(racks, minutes, strict=True))
    ]
    return kinds, 20.0 * sum(racks)


@given(whole_racks())
@settings(deadline=None, max_examples=20)
def test_of_whole_racks_no_other_order_ends_sooner_than_the_slowest_kind_first(
    racks: tuple[list[KindInBath], float],
) -> None:
    kinds, litres = racks

    ours = day_of(*kinds, litres=litres).finish

    assert all(ours <= day_of(*order, litres=litres).finish + 1e-6 for order in permutations(kinds))


@given(whole_racks(), st.integers(1, 3))
@settings(deadline=None, max_examples=40)
def test_whole_racks_each_timed_for_itself_take_no_longer_than_all_as_the_slowest(
    racks: tuple[list[KindInBath], float], baths: int
) -> None:
    kinds, litres = racks

    honest = day_of(*kinds, litres=litres, baths=baths)
    as_one = day_of(replace(kinds[0], part=1.0), litres=litres, baths=baths)

    assert len(honest.heated) == len(as_one.heated)
    assert honest.finish <= as_one.finish + 1e-6


@given(st.floats(5, 300), st.lists(st.tuples(st.integers(1, 9), st.floats(5, 120)), min_size=2, max_size=4))
@settings(deadline=None, max_examples=40)
def test_kinds_cost_a_batch_more_at_most_for_each_further_kind_and_batches_no_longer_than_the_slowest(
    litres: float, drawn: list[tuple[int, float]]
) -> None:
    whole = sum(weight for weight, _ in drawn)
    kinds = [
        replace(ONE, key=str(place), part=weight / whole, first_minutes=later + 30, later_minutes=later)
        for place, (weight, later) in enumerate(drawn)
    ]
    slowest = max(later for _, later in drawn)

    honest = day_of(*kinds, litres=litres)
    all_slow = day_of(*(replace(k, first_minutes=slowest + 30, later_minutes=slowest) for k in kinds), litres=litres)
    as_one = day_of(ONE, litres=litres)

    assert len(as_one.heated) <= len(honest.heated) <= len(as_one.heated) + len(kinds) - 1
    assert honest.finish <= all_slow.finish + 1e-6


def test_what_is_left_of_each_kind_is_a_batch_of_its_own_and_may_make_the_day_longer() -> None:
    """The truth beside the last: 10 and 10 litres fill one rack of 20 together, and two each by itself."""
    small = replace(ONE, key="two", part=0.5, first_minutes=85, later_minutes=55)

    apart, together = day_of(replace(ONE, part=0.5), small, litres=20), day_of(ONE, litres=20)

    assert len(apart.heated) == 2
    assert apart.finish == pytest.approx(apart.heated[0].start + 90 + 55 + 60)
    assert apart.finish > together.finish
