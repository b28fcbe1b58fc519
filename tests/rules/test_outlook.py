"""The whole of a press day from a few numbers."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.containers import USUAL_KINDS, RefusalCode, Use
from kitshare.rules.heating import Bottle
from kitshare.rules.outlook import USUAL_USE, Caution, NotEnoughContainers, Part, outlook
from kitshare.rules.pressday import Station
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE, FruitOutOfRange, KindTwice, SharesDoNotSum
from kitshare.rules.water import OutOfRange
from kitshare.rules.yard import Bath, ToHeat, bath_plan
from kitshare.rules.yields import PUBLISHED

KINDS = {kind.key: kind for kind in USUAL_KINDS}


def part(key: str, share: str, use: Use | None = None) -> Part:
    return Part(kind=KINDS[key], use=use or USUAL_USE[key], share=Decimal(share))


def cautions(found) -> set[Caution]:  # type: ignore[no-untyped-def]
    return {caution for caution, _ in found.warnings}


def test_a_day_of_four_hundred_kilograms() -> None:
    found = outlook(Decimal(400))

    assert found.juice.expected == pytest.approx(220)
    assert found.pomace_kg == 400 - 220 * JUICE_KG_PER_LITRE
    assert found.ascorbic_acid.grams == 110
    assert found.fillings[0].litres >= Decimal(str(found.juice.high))
    assert [bath.batches.batches for bath in found.baths] == [5]
    assert found.day.bottleneck is Station.HEAT
    assert found.water_litres == 200 + 100 + 20 + 50
    assert (Caution.NO_RECORDED_DAYS, "") in found.warnings
    assert Caution.COOL_BATH_FIRST in cautions(found)
    assert Caution.GLASS_IN_FROST not in cautions(found)


def test_parts_of_a_litre_count() -> None:
    """25.75 kg: 14.1625 litres expected, 10.3 at least; 27.85 kg: 19.495 at most, 26 bottles of 0.7488 and a little."""
    small = outlook(Decimal("25.75"))

    assert small.ascorbic_acid.grams == Decimal("7.08125")
    assert small.sacks == 1
    assert outlook(Decimal("27.85")).fillings[0].filled == 27


def test_each_part_of_the_mix_is_filled_with_its_share() -> None:
    mix = [part("can_10", "0.5"), part("tub_1", "0.5"), part("vat_25", "0")]
    found = outlook(Decimal(100), mix=mix)

    assert [(f.kind.key, f.filled) for f in found.fillings] == [("can_10", 4), ("tub_1", 39)]


@pytest.mark.parametrize(("key", "litres", "glass_kg"), [("bottle_1000", 1.03, 0.60), ("bag_5", 5.2, 0.0)])
def test_each_heated_kind_has_its_own_bath_by_its_size_and_glass_the_largest_first(
    key: str, litres: float, glass_kg: float
) -> None:
    mix = [part("bottle_500", "0.5"), part(key, "0.5000005")]
    large = Bottle(juice_litres=float(KINDS[key].fill_litres(Use.HEATED)), glass_kg=glass_kg)
    small = Bottle(juice_litres=float(KINDS["bottle_500"].fill_litres(Use.HEATED)), glass_kg=0.40)
    alone = [
        bath_plan(
            Bath(),
            ToHeat(key="", brim_litres=brim, bottle=bottle, juice_litres=110),
            target_c=75,
            hold_minutes=20,
        )
        for brim, bottle in ((litres, large), (0.53, small))
    ]

    found = outlook(Decimal(400), mix=mix)

    assert [bath.kind.key for bath in found.baths] == [key, "bottle_500"]
    assert [bath.batches for bath in found.baths] == [one.batches for one in alone]


def test_recorded_days_take_the_first_caution_away() -> None:
    found = outlook(Decimal(400), belief=PUBLISHED.learned([0.6] * 9))

    assert found.juice.days == 9
    assert Caution.NO_RECORDED_DAYS not in cautions(found)


def test_one_bath_needs_no_cooling_and_two_do() -> None:
    one, two = outlook(Decimal(90)), outlook(Decimal(100))

    assert (one.baths[0].batches.batches, two.baths[0].batches.batches) == (1, 2)
    assert Caution.COOL_BATH_FIRST not in cautions(one)
    assert (Caution.COOL_BATH_FIRST, "52") in two.warnings


@pytest.mark.parametrize("fruit", [400, 1000])
def test_a_long_day_is_said_in_hours(fruit: int) -> None:
    found = outlook(Decimal(fruit))

    assert (Caution.LONG_DAY, f"{found.day.finish / 60:.1f}") in found.warnings
    assert (Caution.JUICE_WAITS_LONG, f"{found.day.longest_wait / 60:.1f}") in found.warnings


mixes = st.lists(st.integers(1, 9), min_size=9, max_size=9).map(
    lambda weights: [part(key, str(Decimal(w) / sum(weights))) for key, w in zip(KINDS, weights, strict=True)]
)


@given(st.decimals(1, 3000, places=1), mixes, st.integers(1, 12))
@settings(deadline=None, max_examples=40)
def test_the_containers_hold_the_juice_and_the_sacks_the_pomace(fruit: Decimal, mix: list[Part], helpers: int) -> None:
    found = outlook(fruit, mix=mix, helpers=helpers)

    for p in mix:
        held = sum(f.litres for f in found.fillings if f.kind is p.kind)
        assert float(held) >= found.juice.high * float(p.share) - 1e-5
    assert found.sacks * 15 >= float(fruit) - found.juice.low * float(JUICE_KG_PER_LITRE) - 1e-5
    assert float(found.pomace_kg) + found.juice.expected * float(JUICE_KG_PER_LITRE) == pytest.approx(float(fruit))


@given(st.decimals(1, 1500, places=1), st.decimals(0, 1500, places=1))
@settings(deadline=None, max_examples=40)
def test_more_fruit_never_needs_fewer_of_anything(fruit: Decimal, more: Decimal) -> None:
    less, greater = outlook(fruit), outlook(fruit + more)

    assert greater.fillings[0].filled >= less.fillings[0].filled
    assert greater.sacks >= less.sacks
    assert greater.ascorbic_acid.grams >= less.ascorbic_acid.grams
    assert greater.water_litres >= less.water_litres
    assert greater.day.finish >= less.day.finish - 1e-6


def test_juice_that_is_not_heated_needs_no_bath() -> None:
    found = outlook(Decimal(100), mix=[part("can_10", "0.5"), part("tub_1", "0.5")])

    assert found.baths == ()
    assert found.day.cool_at is None
    assert found.water_litres == 50 + 100 + 20


def test_large_containers_are_said_to_be_heavy_and_glass_to_crack_in_frost() -> None:
    heavy = outlook(Decimal(100), mix=[part("vat_25", "1")])
    frozen = outlook(Decimal(100), mix=[part("bottle_500", "1", Use.FROZEN)])

    assert (Caution.HEAVY_CONTAINER, "vat_25") in heavy.warnings
    assert (Caution.GLASS_IN_FROST, "bottle_500") in frozen.warnings


def test_a_container_that_may_not_hold_its_juice_is_refused() -> None:
    with pytest.raises(NotEnoughContainers) as refused:
        outlook(Decimal(100), mix=[part("can_10", "1", Use.HEATED)])

    assert refused.value.refused["can_10"][0].code is RefusalCode.LIMIT_UNDER_HEAT


@pytest.mark.parametrize("shares", [("0.5", "0.4"), ("0.5", "0.6"), ("1.5", "-0.5"), ("NaN", "1")])
def test_shares_that_are_no_whole_are_refused(shares: tuple[str, str]) -> None:
    with pytest.raises(SharesDoNotSum) as refused:
        outlook(Decimal(100), mix=[part("can_10", shares[0]), part("tub_1", shares[1])])

    assert (refused.value.field, str(refused.value.value)) == ("mix", str(Decimal(shares[0]) + Decimal(shares[1])))


def test_no_mix_at_all_is_no_whole() -> None:
    with pytest.raises(SharesDoNotSum):
        outlook(Decimal(100), mix=[])


def test_thirds_typed_by_hand_are_a_whole() -> None:
    mix = [part("can_10", "0.3333333"), part("tub_1", "0.3333333"), part("pet_2", "0.3333334")]

    assert len(outlook(Decimal(100), mix=mix).fillings) == 3


def test_one_kind_for_one_use_twice_is_refused() -> None:
    with pytest.raises(KindTwice) as refused:
        outlook(Decimal(100), mix=[part("can_10", "0.5"), part("can_10", "0.5")])

    assert (refused.value.field, refused.value.value, refused.value.kind_key) == ("mix", *["can_10:fresh"] * 2)


@pytest.mark.parametrize("fruit", ["0", "500000", "NaN"])
def test_no_fruit_and_mountains_are_refused(fruit: str) -> None:
    with pytest.raises(FruitOutOfRange):
        outlook(Decimal(fruit))


def test_no_helpers_are_refused() -> None:
    with pytest.raises(OutOfRange):
        outlook(Decimal(100), helpers=0)
