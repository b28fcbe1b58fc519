from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws.iapws97 import IAPWS97

from kitshare.rules.sizing import Line, Sizing, size_day
from kitshare.rules.sizing_terms import (
    FILL_FOR_FREEZING,
    FILL_FOR_HEATING,
    JUICE_KG_PER_LITRE,
    YIELD_HIGH,
    YIELD_LOW,
    YIELD_RECORDED_BAD,
    ContainerKind,
    ContainerShare,
    Formula,
    FruitOutOfRange,
    KindTwice,
    OutOfRange,
    Quantity,
    SharesDoNotSum,
    SizingInput,
    SizingRefused,
    Source,
    YieldOutOfRange,
    YieldsOutOfOrder,
)
from kitshare.rules.units import LITRES_PER_US_GALLON, FruitUnit, fruit_kg

D = Decimal
unhurried = settings(deadline=None)

BOTTLE = ContainerKind(key="bottle", litres=D("0.75"), reused_glass=True)
BOX = ContainerKind(key="box", litres=D(5), fill_fraction=D(1))
FREEZER_TUB = ContainerKind(key="tub", litres=D(1), fill_fraction=FILL_FOR_FREEZING)


def mix(**percents: int) -> tuple[ContainerShare, ...]:
    kinds = {kind.key: kind for kind in (BOTTLE, BOX, FREEZER_TUB)}
    return tuple(ContainerShare(kind=kinds[key], share=D(percent) / 100) for key, percent in percents.items())


def day(fruit: str | Decimal, its_yield: str | None = None) -> Sizing:
    known = SizingInput(fruit_kg=D(fruit), mix=mix(box=100))
    return size_day(known.expecting(D(its_yield)) if its_yield else known)


def bushel(pounds: int) -> Decimal:
    return fruit_kg(D(pounds), FruitUnit.LB, crate_kg=D(16), sack_kg=D(25))


ORCHARD_PROJECT = "community apple pressing guide, The Orchard Project"
GEORGIA = "Making Apple Cider, University of Georgia Cooperative Extension"
GROWERS = "growers' pages on rack-and-cloth days"
THREE_US_GALLONS = 3 * LITRES_PER_US_GALLON
PUBLISHED = [
    ("10", "5", ORCHARD_PROJECT),
    ("16", "8", ORCHARD_PROJECT),
    ("24", "12", ORCHARD_PROJECT),
    ("3200", "2000", GROWERS),
    (bushel(42), THREE_US_GALLONS, GEORGIA),
    (bushel(48), THREE_US_GALLONS, GEORGIA),
    ("10", "6", "common practice, no source"),
]


@pytest.mark.parametrize(("fruit", "litres", "source"), PUBLISHED)
def test_the_range_holds_what_is_published(fruit: str, litres: str, source: str) -> None:
    sizing = day(fruit)

    assert sizing.juice_low_litres <= D(litres) <= sizing.juice_high_litres, source


@pytest.mark.parametrize(
    ("fruit", "its_yield", "litres", "source"),
    [
        ("10", "0.5", "5", ORCHARD_PROJECT),
        ("16", "0.5", "8", ORCHARD_PROJECT),
        ("24", "0.5", "12", ORCHARD_PROJECT),
        ("3200", "0.625", "2000", GROWERS),
    ],
)
def test_a_published_yield_gives_the_published_juice(fruit: str, its_yield: str, litres: str, source: str) -> None:
    assert day(fruit, its_yield).juice_expected_litres == D(litres), source


def test_three_gallons_from_a_bushel_lie_between_the_two_yields_of_the_extension() -> None:
    # The extension's bushel weighs 42 to 48 lb: 0.596 and 0.522 L/kg.
    assert day(bushel(42), "0.596").juice_expected_litres == pytest.approx(THREE_US_GALLONS, rel=D("0.001"))
    assert day(bushel(48), "0.522").juice_expected_litres == pytest.approx(THREE_US_GALLONS, rel=D("0.001"))


def test_containers_cover_six_litres_from_ten_kilograms() -> None:
    # Common practice, no source.
    sizing = day("10")

    assert sizing.juice_to_hold_litres == 6
    assert sizing.containers[0].filled == 2  # boxes of 5 litres


def water_kg_per_litre(celsius: float) -> float:
    """Density at one atmosphere by IAPWS-IF97."""
    state = IAPWS97(T=273.15 + celsius, P=0.101325)  # type: ignore[no-untyped-call]
    assert state.rho is not None
    return float(state.rho) / 1000


def test_juice_of_that_density_has_12_brix() -> None:
    # Fit of degrees Brix to specific gravity over the sucrose table of the National Bureau of Standards.
    gravity = float(JUICE_KG_PER_LITRE) / water_kg_per_litre(20)

    brix = 182.46007 * gravity**3 - 775.68212 * gravity**2 + 1262.7794 * gravity - 669.56218

    assert brix == pytest.approx(12, abs=0.02)


def test_the_mass_balance_of_the_literature_is_met() -> None:
    # Shalini and Gupta, J Food Sci Technol 47:365 (2010): 75 % juice, 25 % pomace by mass.
    sizing = day("100", str((D("0.75") / JUICE_KG_PER_LITRE).quantize(D("1e-6"))))

    assert sizing.pomace_expected_kg == pytest.approx(D(25), abs=D("0.001"))


def test_pomace_at_good_yields_lies_where_the_literature_has_it() -> None:
    # The same paper: in use 20 to 35 % of the fruit is left. The high yield is that of a good press.
    assert 20 <= day("100").pomace_least_kg <= 35


def test_glass_and_ice_have_the_room_they_need() -> None:
    # Expansion of water by IAPWS-IF97, a little more than juice; ice 917 against 998 kg/m3.
    assert float(FILL_FOR_HEATING) * water_kg_per_litre(10) / water_kg_per_litre(75) < 1
    assert float(FILL_FOR_FREEZING) * 998 / 917 < 1


def test_an_outing_worked_out_by_hand() -> None:
    # 625 kg, bottles 60 %, boxes 30 %, tubs 10 %. To hold: 625 * 0.60 = 375 L.
    # Bottles 225 / (0.75 * 0.96) = 312.5, so 313, and 313 * 1.05 = 328.65, so 329.
    # Boxes 112.5 / 5 = 22.5, so 23. Tubs 37.5 / 0.9 = 41.7, so 42.
    # Pomace: 625 - 1.0465 * (437.5, 343.75, 281.25) = 167.15625, 265.265625, 330.671875 kg.
    # Sacks of 15 kg: 330.67 / 15 = 22.04, so 23.
    sizing = size_day(SizingInput(fruit_kg=D(625), mix=mix(bottle=60, box=30, tub=10)))

    assert sizing.juice_low_litres == D("281.25")
    assert sizing.juice_expected_litres == D("343.75")
    assert sizing.juice_high_litres == D("437.5")
    assert sizing.juice_to_hold_litres == 375
    assert [(c.kind.key, c.filled, c.to_bring) for c in sizing.containers] == [
        ("bottle", 313, 329),
        ("box", 23, 23),
        ("tub", 42, 42),
    ]
    assert sizing.pomace_least_kg == D("167.15625")
    assert sizing.pomace_expected_kg == D("265.265625")
    assert sizing.pomace_most_kg == D("330.671875")
    assert sizing.pomace_sacks == 23


def test_exactly_full_containers_are_not_rounded_up_further() -> None:
    thirds = ContainerKind(key="third", litres=D(3), fill_fraction=D(1))

    sizing = size_day(SizingInput(fruit_kg=D(5), mix=(ContainerShare(kind=thirds, share=D(1)),)))

    assert sizing.containers[0].filled == 1


def test_a_larger_yield_of_ones_own_asks_for_more_containers_and_a_smaller_for_no_fewer() -> None:
    assert day("100", "0.65").juice_to_hold_litres == 65
    assert day("100", "0.40").juice_to_hold_litres == 60


def test_a_yield_of_ones_own_widens_the_range_and_keeps_the_rest() -> None:
    known = SizingInput(fruit_kg=D(100), mix=mix(box=100))

    poor, rich = known.expecting(YIELD_RECORDED_BAD), known.expecting(D("0.80"))

    assert (poor.yield_low, poor.yield_expected, poor.yield_high) == (
        D("0.28"),
        D("0.28"),
        YIELD_HIGH,
    )
    assert (rich.yield_low, rich.yield_expected, rich.yield_high) == (
        YIELD_LOW,
        D("0.80"),
        D("0.80"),
    )
    with pytest.raises(YieldOutOfRange):
        known.expecting(D("NaN"))


def test_sacks_over_the_lifting_guide_are_pointed_out() -> None:
    known = SizingInput(fruit_kg=D(100), mix=mix(box=100))

    assert not size_day(known).sacks_are_heavy
    assert not size_day(replace(known, pomace_sack_kg=D(16))).sacks_are_heavy
    assert size_day(replace(known, pomace_sack_kg=D("16.1"))).sacks_are_heavy


@pytest.mark.parametrize("fruit", ["0", "-5", "20000.1", "1E+999999", "NaN", "sNaN", "-Infinity"])
def test_an_impossible_mass_of_fruit_is_refused_with_its_bounds(fruit: str) -> None:
    with pytest.raises(FruitOutOfRange) as refused:
        SizingInput(fruit_kg=D(fruit), mix=mix(box=100))

    assert refused.value.field == "fruit_kg"
    assert (refused.value.least, refused.value.most) == SizingInput.FRUIT_KG


@pytest.mark.parametrize("fruit", ["0.001", "20000"])
def test_the_bounds_of_fruit_are_themselves_allowed(fruit: str) -> None:
    assert day(fruit).juice_expected_litres == D(fruit) * D("0.55")


@pytest.mark.parametrize(
    ("field", "value", "refusal"),
    [
        ("yield_low", "0.09", YieldOutOfRange),
        ("yield_expected", "0.91", YieldOutOfRange),
        ("yield_for_containers", "1", YieldOutOfRange),
        ("yield_high", "Infinity", YieldOutOfRange),
        ("yield_expected", "0.44", YieldsOutOfOrder),
        ("yield_expected", "0.71", YieldsOutOfOrder),
        ("breakage_allowance", "-0.01", OutOfRange),
        ("breakage_allowance", "0.51", OutOfRange),
        ("pomace_sack_kg", "0.9", OutOfRange),
        ("pomace_sack_kg", "50.1", OutOfRange),
    ],
)
def test_an_impossible_entry_is_refused_by_the_field(field: str, value: str, refusal: type[SizingRefused]) -> None:
    known = SizingInput(fruit_kg=D(100), mix=mix(box=100))

    with pytest.raises(refusal) as refused:
        replace(known, **{field: D(value)})  # type: ignore[arg-type]

    assert refused.value.field == field


@pytest.mark.parametrize(
    ("litres", "fill", "field"),
    [
        ("0", "1", "litres"),
        ("-1", "1", "litres"),
        ("1200.1", "1", "litres"),
        ("1", "0.49", "fill_fraction"),
        ("1", "1.01", "fill_fraction"),
        ("NaN", "1", "litres"),
    ],
)
def test_an_impossible_container_is_refused(litres: str, fill: str, field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        ContainerKind(key="odd", litres=D(litres), fill_fraction=D(fill))

    assert (refused.value.field, refused.value.kind_key) == (field, "odd")


@pytest.mark.parametrize("share", ["-0.01", "1.01", "NaN"])
def test_an_impossible_share_is_refused(share: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        ContainerShare(kind=BOX, share=D(share))

    assert (refused.value.field, refused.value.kind_key) == ("share", "box")


@pytest.mark.parametrize(
    ("percents", "total"),
    [({}, "0"), ({"box": 99}, "0.99"), ({"box": 60, "bottle": 41}, "1.01")],
)
def test_shares_that_do_not_sum_to_one_are_refused_with_their_sum(percents: dict[str, int], total: str) -> None:
    with pytest.raises(SharesDoNotSum) as refused:
        SizingInput(fruit_kg=D(100), mix=mix(**percents))

    assert (refused.value.field, refused.value.value) == ("mix", D(total))


def test_a_kind_stands_in_the_mix_once() -> None:
    with pytest.raises(KindTwice) as refused:
        SizingInput(fruit_kg=D(100), mix=(*mix(box=50), *mix(box=50)))

    assert refused.value.kind_key == "box"


fruits = st.decimals("0.001", 20_000, places=3)
yields = st.decimals("0.10", "0.90", places=3)


@st.composite
def inputs(draw: st.DrawFn) -> SizingInput:
    low, expected, high = sorted(draw(st.tuples(yields, yields, yields)))
    cuts = sorted(draw(st.lists(st.integers(0, 100), max_size=3)))
    parts = [upper - lower for lower, upper in zip([0, *cuts], [*cuts, 100], strict=True)]
    return SizingInput(
        fruit_kg=draw(fruits),
        mix=tuple(ContainerShare(kind=draw(kinds(str(n))), share=D(part) / 100) for n, part in enumerate(parts)),
        yield_low=low,
        yield_expected=expected,
        yield_for_containers=draw(yields),
        yield_high=high,
        breakage_allowance=draw(st.decimals(0, "0.5", places=2)),
        pomace_sack_kg=draw(st.decimals(1, 50, places=1)),
    )


def kinds(key: str) -> st.SearchStrategy[ContainerKind]:
    return st.builds(
        ContainerKind,
        key=st.just(key),
        litres=st.decimals("0.05", 1200, places=2),
        fill_fraction=st.decimals("0.5", 1, places=2),
        reused_glass=st.booleans(),
    )


@unhurried
@given(inputs())
def test_the_containers_hold_the_juice_and_one_fewer_would_not(known: SizingInput) -> None:
    sizing = size_day(known)

    planned = known.fruit_kg * max(known.yield_for_containers, known.yield_expected)
    room = [count.filled * count.kind.litres * count.kind.fill_fraction for count in sizing.containers]
    assert sizing.juice_to_hold_litres == planned
    assert sum(room) >= planned >= sizing.juice_expected_litres
    for count, its_room in zip(sizing.containers, room, strict=True):
        its_juice = planned * count.share
        one = count.kind.litres * count.kind.fill_fraction
        assert its_room >= its_juice > its_room - one or (its_juice == 0 and count.filled == 0)


@unhurried
@given(inputs())
def test_each_kind_takes_its_share_and_only_reused_glass_gets_more(known: SizingInput) -> None:
    sizing = size_day(known)

    assert [(c.kind, c.share) for c in sizing.containers] == [(p.kind, p.share) for p in known.mix]
    for count in sizing.containers:
        allowance = known.breakage_allowance if count.kind.reused_glass else D(0)
        assert count.to_bring == ceil(count.filled * (1 + Fraction(allowance)))


@unhurried
@given(inputs(), fruits)
def test_more_fruit_never_needs_fewer(known: SizingInput, other: Decimal) -> None:
    less, more = (size_day(replace(known, fruit_kg=fruit)) for fruit in sorted((known.fruit_kg, other)))

    for fewer, count in zip(less.containers, more.containers, strict=True):
        assert fewer.filled <= count.filled
        assert fewer.to_bring <= count.to_bring
    assert less.pomace_sacks <= more.pomace_sacks
    assert less.juice_low_litres <= more.juice_low_litres


@unhurried
@given(inputs())
def test_the_mass_balance_closes_and_the_ranges_are_in_order(known: SizingInput) -> None:
    sizing = size_day(known)

    assert sizing.juice_low_litres <= sizing.juice_expected_litres <= sizing.juice_high_litres
    assert 0 < sizing.pomace_least_kg <= sizing.pomace_expected_kg <= sizing.pomace_most_kg
    for litres, pomace in (
        (sizing.juice_low_litres, sizing.pomace_most_kg),
        (sizing.juice_expected_litres, sizing.pomace_expected_kg),
        (sizing.juice_high_litres, sizing.pomace_least_kg),
    ):
        assert litres * JUICE_KG_PER_LITRE + pomace == known.fruit_kg


@unhurried
@given(inputs())
def test_the_sacks_hold_the_most_pomace_and_one_fewer_would_not(known: SizingInput) -> None:
    sizing = size_day(known)

    room = sizing.pomace_sacks * known.pomace_sack_kg
    assert room >= sizing.pomace_most_kg > room - known.pomace_sack_kg


def by_hand(line: Line) -> Fraction:
    """Each formula as its comment has it, apart from the code that is tested."""
    match line.formula, [Fraction(value.amount) for value in line.inputs]:
        case Formula.LARGER, [a, b]:
            return max(a, b)
        case Formula.JUICE, [a, b]:
            return a * b
        case Formula.CONTAINERS, [a, b, c, d]:
            return Fraction(ceil(a * b / (c * d)))
        case Formula.BREAKAGE, [a, b]:
            return Fraction(ceil(a * (1 + b)))
        case Formula.POMACE, [a, b, c]:
            return a - b * c
        case Formula.SACKS, [a, b]:
            return Fraction(ceil(a / b))
    raise AssertionError(line)


@unhurried
@given(inputs())
def test_every_line_can_be_worked_out_again_from_its_own_inputs(known: SizingInput) -> None:
    earlier: set[tuple[Quantity, Decimal]] = set()
    for line in size_day(known).lines:
        assert by_hand(line) == Fraction(line.result.amount)
        for value in line.inputs:
            if value.source == Source.WORKED_OUT:
                assert (value.quantity, value.amount) in earlier
        earlier.add((line.result.quantity, line.result.amount))


def shown(sizing: Sizing) -> Iterator[tuple[str, str, Decimal]]:
    """Every number of an answer that is worked out: what it is, of which container, how much."""
    for field in (
        "juice_low_litres",
        "juice_expected_litres",
        "juice_high_litres",
        "juice_to_hold_litres",
        "pomace_least_kg",
        "pomace_expected_kg",
        "pomace_most_kg",
        "pomace_sacks",
    ):
        yield field, "", D(getattr(sizing, field))
    for count in sizing.containers:
        yield "containers_filled", count.kind.key, D(count.filled)
        if count.kind.reused_glass:
            yield "containers_to_bring", count.kind.key, D(count.to_bring)


@unhurried
@given(inputs())
def test_every_number_of_the_answer_has_its_line(known: SizingInput) -> None:
    sizing = size_day(known)

    traced = {(str(ln.result.quantity), ln.kind_key, ln.result.amount) for ln in sizing.lines}
    planning = (
        "planning_yield",
        "",
        max(known.yield_for_containers, known.yield_expected),
    )
    assert traced == {*shown(sizing), planning}


def test_a_value_names_its_source_and_an_entered_one_says_so() -> None:
    known = SizingInput(fruit_kg=D(625), mix=mix(bottle=100), yield_high=D("0.72"))

    sources = {value.quantity: value.source for line in size_day(known).lines for value in line.inputs}

    assert sources[Quantity.FRUIT_KG] == Source.ENTERED
    assert sources[Quantity.YIELD_LOW] == Source.OUR_CHOICE
    assert sources[Quantity.YIELD_HIGH] == Source.ENTERED
    assert sources[Quantity.YIELD_FOR_CONTAINERS] == Source.COMMON_PRACTICE
    assert sources[Quantity.FILL_FRACTION] == Source.EXPANSION
    assert sources[Quantity.BREAKAGE_ALLOWANCE] == Source.COMMON_PRACTICE
    assert sources[Quantity.JUICE_KG_PER_LITRE] == Source.SUCROSE_TABLE
    assert sources[Quantity.POMACE_SACK_KG] == Source.LIFTING_FILTER
