"""Guide values for lifting: those that texts quote from the HSE filter, met, just met and just missed."""

from decimal import Decimal

import pytest

from kitshare.rules.lifting import FILTER, Guide, Height, Lift, Load, Within, for_two, lift, together
from kitshare.rules.sizing_terms import LIFTING_GUIDE_KG

ALL, MEN_ONLY, NONE = Within.ALL, Within.MEN_ONLY, Within.NONE


@pytest.mark.parametrize(
    ("height", "men_kg", "women_kg"),
    [
        (Height.ABOVE_SHOULDER, 10, 7),
        (Height.SHOULDER_TO_ELBOW, 20, 13),
        (Height.ELBOW_TO_KNUCKLE, 25, 16),
        (Height.KNUCKLE_TO_LOWER_LEG, 20, 13),
        (Height.FLOOR, 10, 7),
    ],
)
def test_the_filter_is_met_exactly_and_missed_by_a_little_more(height, men_kg, women_kg):
    """The HSE filter, close to the body, quoted."""
    more = Decimal("0.1")

    assert lift(Decimal(women_kg), height).one is ALL
    assert lift(women_kg + more, height).one is MEN_ONLY
    assert lift(Decimal(men_kg), height).one is MEN_ONLY
    assert lift(men_kg + more, height).one is NONE


@pytest.mark.parametrize(
    ("kg", "expected"),
    [
        ("0", Lift(one=ALL, two=ALL)),
        ("21", Lift(one=MEN_ONLY, two=ALL)),
        ("21.1", Lift(one=MEN_ONLY, two=MEN_ONLY)),
        ("30", Lift(one=NONE, two=MEN_ONLY)),
        ("33", Lift(one=NONE, two=MEN_ONLY)),
        ("33.1", Lift(one=NONE, two=NONE)),
    ],
)
def test_a_crate_of_thirty_kilograms_is_over_for_anyone_alone(kg, expected):
    assert lift(Decimal(kg)) == expected


def test_two_lift_two_thirds_of_what_each_lifts_together():
    """HSE guidance L23, quoted; a railway's own rules work 20 kg each out as 26.6 kg for two."""
    assert for_two(Guide(men_kg=20, women_kg=15)) == Guide(men_kg=26, women_kg=20)


@pytest.mark.parametrize("height", Height)
def test_two_lift_more_than_one_and_less_than_twice_as_much(height):
    one, two = FILTER[height], for_two(FILTER[height])

    assert one.men_kg < two.men_kg < 2 * one.men_kg
    assert one.women_kg < two.women_kg < 2 * one.women_kg


def test_what_a_full_sack_should_weigh_comes_from_the_same_filter():
    assert FILTER[Height.ELBOW_TO_KNUCKLE].women_kg == LIFTING_GUIDE_KG


@pytest.mark.parametrize("kg", ["-0.1", "10000.1", "NaN", "Infinity"])
def test_what_is_no_weight_is_refused(kg):
    with pytest.raises(ValueError, match="no such weight"):
        lift(Decimal(kg))


def test_things_are_added_up_and_what_was_not_weighed_makes_it_at_least():
    racks, former, crate = (Decimal("2.3"), 11), (Decimal(3), 1), (Decimal("2.7"), 1)

    assert together([racks, former, crate]) == Load(kg=Decimal("31.0"), is_all=True)
    assert together([racks, former, (None, 1)]) == Load(kg=Decimal("28.3"), is_all=False)
    assert together([(None, 4)]) is None
    assert together([racks, former, crate]).lift == Lift(one=NONE, two=MEN_ONLY)
    assert Load(kg=Decimal(20_000), is_all=True).lift == Lift(one=NONE, two=NONE)
