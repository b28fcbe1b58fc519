"""What a booking shows before anybody plans, and how a plan is sized."""

from decimal import Decimal

import pytest

from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.planning import UNSHARED, Draft, draft_of, size
from kitshare.pressdays.wanted import usual_mix

pytestmark = pytest.mark.django_db


def sized(shares, its_yield="0.55"):
    draft = Draft(yield_expected=Decimal(its_yield), shares=shares)
    return size(draft, fruit_kg=Decimal(400), pomace_sack_kg=Decimal(15))


def test_the_usual_mix_is_each_kinds_parts_out_of_all_parts(bottle, box):
    assert usual_mix([bottle, box]) == {bottle: 75, box: 25}


def test_where_no_kind_has_parts_everything_goes_into_the_first(add_kind):
    first, second = add_kind("first", "1"), add_kind("second", "1")

    assert usual_mix([first, second]) == {first: 100, second: 0}


def test_a_retired_kind_is_not_in_the_usual_mix(bottle, box, today):
    box.retired_on = today

    assert usual_mix([bottle, box]) == {bottle: 100}
    assert usual_mix([box]) == {}


def test_a_booking_without_a_plan_shows_the_usual_yield_and_mix_and_then_its_own(booking, bottle, box, save):
    usual = draft_of(booking, ContainerKind.objects.in_use())
    save({box: 100}, "0.62")
    own = draft_of(booking, ContainerKind.objects.in_use())

    assert (usual.yield_expected, usual.shares, usual.plan) == (Decimal("0.55"), {bottle: 75, box: 25}, None)
    assert (own.yield_expected, own.shares, own.plan.revision) == (Decimal("0.62"), {box: 100}, 1)


def test_six_litres_from_ten_kilograms_are_contained(bottle, box):
    # Common practice, no source: at most 6 litres come from 10 kg. 240 litres: half in bottles of 0.72, half in boxes.
    sizing = sized({bottle: 50, box: 50})

    assert sizing.juice_to_hold_litres == 240
    assert [(count.filled, count.to_bring) for count in sizing.containers] == [(167, 176), (24, 24)]


def test_what_is_not_shared_out_is_counted_apart(box):
    sizing = sized({box: 85})

    assert [(count.kind.key, count.share) for count in sizing.containers] == [
        (str(box.pk), Decimal("0.85")),
        (UNSHARED, Decimal("0.15")),
    ]


@pytest.mark.parametrize("boxes", [0, 150])
def test_a_mix_that_cannot_be_still_shows_the_juice(bottle, box, boxes):
    sizing = sized({bottle: 0, box: boxes})

    assert sizing.juice_expected_litres == 220
    assert [count.kind.key for count in sizing.containers] == [UNSHARED]
