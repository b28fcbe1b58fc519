"""Who hears that a service or a safety test falls due, or is overdue, or comes before a booking: once each."""

from datetime import date
from decimal import Decimal

import pytest

from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from kitshare.upkeep.use import Work, note_use
from kitshare.upkeep.use_models import UseSource
from tests.reminders.conftest import on

pytestmark = pytest.mark.django_db


def told(begins: str) -> list[tuple[str, str]]:
    return sorted(Message.objects.filter(key__startswith=begins).values_list("to_name", "subject"))


def test_the_maintenance_volunteer_is_told_a_fortnight_before_and_when_it_is_overdue_once_each(
    plan_care, teodor, perpetua
):
    plan_care(due_on=date(2027, 9, 16))
    service = plan_care(kind="service", name="Blades sharpened", due_on=date(2027, 9, 16))

    reminders.tick(at=on(1, 23))
    early = told("care-")
    for day, hour in ((2, 6), (2, 7), (2, 9), (10, 9), (16, 9)):
        reminders.tick(at=on(day, hour))
    soon = told("care-due")
    for hour in (6, 7, 9):
        reminders.tick(at=on(17, hour))

    assert early == []
    assert soon == [
        ("Teodor Haskerby", "Due on Thu 16 Sep 2027: Heron mill: Blades sharpened"),
        ("Teodor Haskerby", "Due on Thu 16 Sep 2027: Heron mill: Electrical test"),
    ]
    assert told("care-due") == soon
    assert told("care-overdue") == [
        ("Teodor Haskerby", "Overdue since Thu 16 Sep 2027: Heron mill: Blades sharpened"),
        ("Teodor Haskerby", "Overdue since Thu 16 Sep 2027: Heron mill: Electrical test"),
    ]
    body = Message.objects.get(key=f"care-overdue:{service.pk}:2027-09-16:{teodor.pk}").body
    assert "“Blades sharpened” has been due since Thu 16 Sep 2027 and is not recorded as done." in body
    assert "Nobody hands the machine over" not in body


def test_nothing_is_written_before_seven_in_the_morning(plan_care):
    plan_care(due_on=date(2027, 9, 16))

    reminders.tick(at=on(2, 6, 59))

    assert told("care-") == []


def test_what_was_overdue_from_the_start_is_told_once_as_overdue(plan_care):
    plan_care(due_on=date(2027, 8, 1))

    reminders.tick(at=on(1))

    assert [who for who, _subject in told("care-")] == ["Teodor Haskerby"]
    assert told("care-due") == []


def test_where_nobody_mends_the_coordinator_is_told(plan_care, teodor, perpetua):
    plan_care()
    type(teodor).objects.filter(pk=teodor.pk).update(is_active=False)

    reminders.tick(at=on(2))

    assert [who for who, _subject in told("care-due")] == ["Perpetua Quillstone"]


def test_done_in_time_nothing_is_told_of_the_old_day(plan_care, record_care):
    plan = plan_care(due_on=date(2027, 9, 20))
    record_care(plan)

    reminders.tick(at=on(21))

    assert told("care-") == []


def test_the_village_and_the_coordinator_hear_of_a_test_before_a_near_booking_and_when_it_is_done(
    agreed, plan_care, record_care
):
    plan = plan_care(due_on=date(2027, 9, 10))

    for hour in (6, 7, 8):
        reminders.tick(at=on(2, hour))
    warned = told("booking-at-risk")
    record_care(plan)
    for hour in (9, 10):
        reminders.tick(at=on(2, hour))

    subject = "At risk: Sorrelhythe, Sat 11 Sep: a safety test comes first"
    assert warned == [("Perpetua Quillstone", subject), ("Sunniva Okparadine", subject)]
    assert told("booking-at-risk") == warned
    assert told("test-done") == [
        ("Perpetua Quillstone", "No longer at risk: Sorrelhythe, Sat 11 Sep"),
        ("Sunniva Okparadine", "No longer at risk: Sorrelhythe, Sat 11 Sep"),
    ]
    body = Message.objects.get(key__startswith="booking-at-risk", to_name="Sunniva Okparadine").body
    assert "Heron mill: “Electrical test” falls due on Fri 10 Sep 2027, before it goes out on Sat 11 Sep." in body


def test_a_test_that_failed_is_not_told_as_done(agreed, plan_care, record_care):
    plan = plan_care(due_on=date(2027, 9, 10))
    reminders.tick(at=on(2))

    record_care(plan, passed=False)
    reminders.tick(at=on(2, 10))

    assert told("test-done") == []


def test_a_booking_that_is_far_ahead_alarms_nobody_yet(agreed, plan_care):
    plan_care(due_on=date(2027, 8, 20))

    reminders.tick(at=on(1).replace(month=8, day=25))

    assert told("booking-at-risk") == []


def test_a_test_due_on_the_day_out_comes_in_time(agreed, plan_care):
    plan_care(due_on=date(2027, 9, 11))

    reminders.tick(at=on(2))

    assert told("booking-at-risk") == []


def test_a_service_that_is_due_by_use_is_told_once_until_it_is_done_and_due_again(
    plan_care, record_care, teodor, season, mill
):
    plan = plan_care(kind="service", name="Blades sharpened", due_on=date(2028, 9, 1), every_kg=Decimal(1000))

    def mill_some(booking_key, day, kg):
        note_use(
            booking_key=booking_key,
            work=[Work(day=day, machines=(mill,), kg=Decimal(kg))],
            source=UseSource.RECORDED,
        )

    mill_some(1, date(2027, 8, 20), "999")
    reminders.tick(at=on(1))
    under = told("care-")
    mill_some(2, date(2027, 8, 21), "1")
    for day in (2, 3):
        reminders.tick(at=on(day))
    at = told("care-")
    record_care(plan)
    mill_some(3, date(2027, 9, 4), "1200")
    reminders.tick(at=on(5))

    assert under == []
    assert at == [("Teodor Haskerby", "Due after 1,000 kg: Heron mill: Blades sharpened")]
    assert len(told("care-by-use")) == 2
