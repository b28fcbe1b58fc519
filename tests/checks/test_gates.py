"""When a check may be made: every stage, every day near the booking, every kind of member."""

from datetime import date

import pytest

from kitshare.bookings.models import Booking, Stage
from kitshare.checks.gates import (
    DaysAreOver,
    NotTheirs,
    SetAside,
    StillOut,
    TooEarly,
    WrongStage,
    check_pickup_can_start,
    check_return_can_start,
    why_not,
)
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep

pytestmark = pytest.mark.django_db

# Out on Wed 1 Sep, back by the morning of Sat 4 Sep.
DAYS = {
    date(2027, 8, 30): TooEarly,
    date(2027, 8, 31): None,
    date(2027, 9, 1): None,
    date(2027, 9, 3): None,
    date(2027, 9, 4): DaysAreOver,
    date(2027, 9, 5): DaysAreOver,
}


def refusal(booking, by, today):
    found = why_not(lambda: check_pickup_can_start(booking=booking, by=by, today=today))
    return type(found) if found else None


@pytest.mark.parametrize(("day", "expected"), DAYS.items(), ids=str)
def test_a_pickup_is_open_from_the_eve_until_the_day_before_it_is_due_back(day, expected, agreed_booking, sunniva):
    assert refusal(agreed_booking, sunniva, day) is expected


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage != Stage.AGREED])
def test_no_pickup_at_any_other_stage_on_any_day(stage, agreed_booking, sunniva):
    Booking.objects.filter(pk=agreed_booking.pk).update(stage=stage)
    agreed_booking.refresh_from_db()

    assert {day: refusal(agreed_booking, sunniva, day) for day in DAYS} == dict.fromkeys(DAYS, WrongStage)


@pytest.mark.parametrize("stage", Stage)
def test_a_return_is_open_while_the_kit_is_out_and_at_no_other_stage(stage, agreed_booking, sunniva):
    Booking.objects.filter(pk=agreed_booking.pk).update(stage=stage)
    agreed_booking.refresh_from_db()

    found = why_not(lambda: check_return_can_start(booking=agreed_booking, by=sunniva))

    assert type(found) is (type(None) if stage == Stage.OUT else WrongStage)


@pytest.mark.parametrize(
    ("who", "allowed"), [("sunniva", True), ("perpetua", True), ("teodor", True), ("leilani", False)]
)
def test_the_village_the_coordinator_and_maintenance_may_sign_and_another_village_may_not(
    who, allowed, request, agreed_booking, today
):
    member = request.getfixturevalue(who)

    at_pickup = refusal(agreed_booking, member, today)
    Booking.objects.filter(pk=agreed_booking.pk).update(stage=Stage.OUT)
    agreed_booking.refresh_from_db()
    at_return = why_not(lambda: check_return_can_start(booking=agreed_booking, by=member))

    assert (at_pickup, at_return and type(at_return)) == ((None, None) if allowed else (NotTheirs, NotTheirs))


@pytest.mark.parametrize("severity", Severity)
def test_only_a_fault_that_stops_use_stops_the_pickup_and_the_reason_is_said(
    severity, agreed_booking, mill, teodor, sunniva, now, today
):
    upkeep.report_fault(machine=mill, part=None, note="Blade nicked", severity=severity, by=teodor, at=now)

    found = why_not(lambda: check_pickup_can_start(booking=agreed_booking, by=sunniva, today=today))

    if severity == Severity.STOPS_USE:
        assert isinstance(found, SetAside)
        assert "Heron mill: Blade nicked." in str(found)
    else:
        assert found is None


def test_a_fault_of_a_machine_that_is_not_booked_stops_nothing(agreed_booking, otter_mill, teodor, sunniva, now, today):
    upkeep.report_fault(machine=otter_mill, part=None, note="No", severity=Severity.STOPS_USE, by=teodor, at=now)

    assert refusal(agreed_booking, sunniva, today) is None


def test_a_machine_that_another_village_still_has_comes_back_first(
    agreed_booking, fennerlow, leilani, mill, sunniva, today
):
    other = Booking.objects.create(
        village=fennerlow,
        borrower=leilani,
        stage=Stage.OUT,
        out_on=date(2027, 8, 27),
        back_on=date(2027, 8, 30),
        fruit_amount=10,
        fruit_kg=10,
        asked_at=agreed_booking.asked_at,
        changed_at=agreed_booking.asked_at,
    )
    other.machines.add(mill)

    found = why_not(lambda: check_pickup_can_start(booking=agreed_booking, by=sunniva, today=today))

    assert isinstance(found, StillOut)
    assert found.bookings == [other]
    assert "Fennerlow" in str(found)
