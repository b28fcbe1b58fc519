"""A part that two machines share is looked at once, with the first of them, and cannot go along twice."""

from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.checks import actions as checks
from kitshare.checks.gates import SharedPartAway
from kitshare.checks.lines import PickupStopped, pickup_list, return_list
from kitshare.kits.models import Part
from kitshare.rules.checklists import Condition, PartKind
from kitshare.rules.periods import Period
from kitshare.upkeep.models import Fault
from tests.checks.sheets import but, signed, sound

pytestmark = pytest.mark.django_db


@pytest.fixture
def extension(mill, press, pasteuriser) -> Part:
    part = Part.objects.create(machine=mill, name="Extension lead", kind=PartKind.ORDINARY, position=9)
    part.also_serves.set([press, pasteuriser])
    return part


@pytest.fixture
def alone(fennerlow, leilani, perpetua, pasteuriser, agreed_booking, now, today):
    """Fennerlow has the pasteuriser on the same days."""
    booking = bookings.book_kit(
        village=fennerlow,
        borrower=leilani,
        machines=[pasteuriser],
        period=Period(start=today, end=date(2027, 9, 4)),
        fruit_amount=Decimal(100),
        fruit_unit="kg",
        note="",
        by=leilani,
        at=now,
        today=today,
    )
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)


def test_it_is_listed_once_under_the_first_machine_that_it_serves(agreed_booking, extension, mill):
    rows = [row for row in pickup_list(agreed_booking) if row.part == extension]

    assert [row.machine for row in rows] == [mill]


def test_with_another_machine_alone_it_is_listed_there(alone, extension, pasteuriser):
    assert [(row.part, row.machine) for row in pickup_list(alone)] == [(extension, pasteuriser)]


def test_out_with_one_village_it_is_left_off_the_list_of_the_other(
    agreed_booking, alone, extension, pick_up, all_sound, parts
):
    pick_up(seen=all_sound + sound(extension))

    assert pickup_list(alone) == []


def test_back_it_is_on_the_list_again(agreed_booking, alone, extension, pick_up, bring_back, all_sound):
    every = all_sound + sound(extension)
    pick_up(seen=every)
    bring_back(seen=every)

    assert [row.part for row in pickup_list(alone)] == [extension]


def test_a_guard_that_is_out_with_another_village_stops_the_pickup(
    agreed_booking, alone, extension, pick_up, all_sound, leilani, now, today
):
    pick_up(seen=all_sound + sound(extension))
    Part.objects.filter(pk=extension.pk).update(kind=PartKind.GUARD)

    with pytest.raises(SharedPartAway, match="Extension lead is out with Sorrelhythe"):
        checks.complete_pickup_check(
            booking=alone, seen=[], signature=signed("Leilani Crabbwater"), by=leilani, at=now, today=today
        )


def test_a_shared_guard_that_is_missing_becomes_a_fault_of_each_machine(
    agreed_booking, extension, pick_up, stop, all_sound, mill, press, pasteuriser
):
    Part.objects.filter(pk=extension.pk).update(kind=PartKind.GUARD)
    seen = but(all_sound + sound(extension), extension, Condition.MISSING)

    with pytest.raises(PickupStopped):
        pick_up(seen=seen)
    stop(seen=seen)

    assert [Fault.objects.stopping([machine]).count() for machine in (mill, press, pasteuriser)] == [1, 1, 1]
    assert Fault.objects.count() == 1


def test_it_comes_back_in_its_place(agreed_booking, extension, pick_up, all_sound, mill):
    pick_up(seen=all_sound + sound(extension))

    listed = return_list(agreed_booking)

    assert [row.part for row in listed if row.machine == mill][-1] == extension
    assert len(listed) == 6
