"""The rows of the policy: the usual ones, what the database refuses, and what a coordinator may do with them."""

from datetime import time

import pytest
from django.db import IntegrityError, connection, transaction

from kitshare.bookings import actions as bookings
from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Channel, Message
from kitshare.reminders import actions as reminders
from kitshare.reminders import policy
from kitshare.reminders.models import SAFETY, Addressed, By, Kind, ReminderRow
from kitshare.reminders.refusals import (
    HoursNotSensible,
    NotForThese,
    OneIsEnough,
    PolicyRefused,
    RowTwice,
    StaysOn,
    TimeMissing,
    TooFarFromItsDay,
)
from kitshare.reminders.terms import TERMS
from kitshare.reminders.usual import KEYS, USUAL
from kitshare.reminders.words import in_words
from tests.reminders.conftest import on

pytestmark = pytest.mark.django_db


@pytest.fixture
def rows(scheme, now) -> dict[str, ReminderRow]:
    """The usual rows, by their names."""
    policy.settle_usual(at=now)
    return {row.usual: row for row in ReminderRow.objects.all()}


def said(**changes: object) -> policy.Said:
    return {"addressed": "borrower", "days": -2, "at": time(7), "hours": None, "by": "mail"} | changes


@pytest.mark.parametrize(
    ("promise", "facts"),
    [
        ("reminder_row_says_one_time", {"hours": 3}),
        ("reminder_row_says_one_time", {"at": None}),
        ("reminder_row_says_one_time", {"days": None, "hours": 3}),
        ("reminder_row_is_near_its_day", {"days": 91}),
        ("reminder_row_is_near_its_day", {"days": -91}),
        ("reminder_row_is_near_its_moment", {"days": None, "at": None, "hours": 73}),
        ("reminder_row_is_near_its_moment", {"days": None, "at": None, "hours": 0}),
        ("reminder_of_safety_stays_on", {"kind": "test", "usual": "test-other", "is_on": False}),
        ("reminder_row_once", {"days": -1, "at": time(18)}),
        ("reminder_row_once", {"kind": "fault", "addressed": "both", "days": None, "at": None}),
        ("reminder_row_once", {"kind": "offer", "days": None, "at": None, "hours": 3}),
    ],
)
def test_the_database_refuses_a_row_that_cannot_be(rows, promise, facts):
    row = ReminderRow(**({"kind": "pickup", "addressed": "borrower", "days": -2, "at": time(7)} | facts))

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        row.save()

    assert promise in str(refused.value) or (connection.vendor == "sqlite" and "UNIQUE" in str(refused.value))


def test_an_added_row_of_a_safety_test_may_be_off(rows):
    ReminderRow.objects.create(kind="test", addressed="maintainers", days=-30, at=time(7), is_on=False)


def test_the_usual_rows_are_written_down_once_and_said_in_the_logbook(rows, now):
    assert rows.keys() == USUAL.keys()
    assert policy.settle_usual(at=now) == 0
    assert Entry.objects.filter(deed="reminders_settled").count() == 1


def test_each_usual_row_keeps_to_the_terms_of_its_kind_and_each_kind_has_one(rows):
    for row in rows.values():
        policy.check_row(row)  # what a form would be refused for

    assert {row.kind for row in rows.values()} == set(Kind) == set(TERMS)
    assert {row.usual for row in rows.values() if not row.is_on} == {
        *("briefing-7", "pickup-7", "bring-3", "clean-down-1", "season-opens-14", "season-closes-14", "lay-up-0")
    }
    assert set(SAFETY) == {"fault", "test-first", "late-kit", "test"}
    assert KEYS.keys() <= USUAL.keys()


@pytest.mark.parametrize(
    ("usual", "words"),
    [
        ("pickup-1", "1 day before pickup, at 07:00, to the borrower, by mail"),
        ("return-0", "on the day of return, at 07:00, to the borrower, by mail"),
        ("overdue-3", "3 days after the day of return, at 07:00, to the borrower and the coordinators, by mail"),
        ("offer-3", "3 hours before it runs out, to the borrower, by mail"),
        ("fault", "as soon as it is known, at any hour, to the borrower and the coordinators, by mail"),
        ("by-use", "as soon as it is known, from 07:00 on, to the maintenance volunteers, by mail"),
    ],
)
def test_a_row_reads_as_a_person_would_say_it(rows, usual, words):
    assert in_words(rows[usual]) == words


def test_a_row_is_changed_and_the_logbook_says_from_what_to_what(rows, perpetua, now):
    row = policy.change_row(row=rows["pickup-1"], said=said(days=-2, at=time(18), by=By.CALL), by=perpetua, at=now)
    again = policy.change_row(row=row, said=said(days=-2, at=time(18), by=By.CALL), by=perpetua, at=now)

    assert (again.days, again.at, again.by) == (-2, time(18), "call")
    assert Entry.objects.about(row).get().text == (
        "Changed the reminder “Pickup soon”: 1 day before pickup, at 07:00, to the borrower, by mail"
        " → 2 days before pickup, at 18:00, to the borrower, by telephone."
    )


def test_the_second_form_is_told_what_the_first_changed(rows, perpetua, now):
    row = rows["pickup-1"]
    seen = newest_line(row)
    policy.change_row(row=row, said=said(days=-3), by=perpetua, at=now, seen=seen)

    with pytest.raises(ChangedMeanwhile, match="3 days before pickup"):
        policy.change_row(row=row, said=said(days=-4), by=perpetua, at=now, seen=seen)


@pytest.mark.parametrize(
    ("usual", "change", "refusal"),
    [
        ("pickup-1", {"days": -7}, RowTwice),
        ("pickup-1", {"days": 1}, TooFarFromItsDay),
        ("pickup-1", {"days": None, "at": None}, TooFarFromItsDay),
        ("pickup-1", {"at": None}, TimeMissing),
        ("pickup-1", {"addressed": "everybody"}, NotForThese),
        ("overdue-1", {"days": 0, "addressed": "both"}, TooFarFromItsDay),
        ("test-14", {"days": -91, "addressed": "maintainers"}, TooFarFromItsDay),
        ("offer-3", {"days": None, "at": None, "hours": 73}, HoursNotSensible),
        ("offer-3", {"days": None, "at": None, "hours": None}, HoursNotSensible),
        ("fault", {"days": None, "at": None, "addressed": "borrower"}, NotForThese),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(rows, perpetua, now, usual, change, refusal):
    before = in_words(rows[usual])

    with pytest.raises(refusal) as refused:
        policy.change_row(row=rows[usual], said=said(**change), by=perpetua, at=now)

    assert isinstance(refused.value, PolicyRefused)
    assert in_words(ReminderRow.objects.get(usual=usual)) == before


def test_several_rows_of_one_kind_where_that_makes_sense(rows, perpetua, now):
    added = policy.add_row(kind=Kind.PICKUP, said=said(days=-3), by=perpetua, at=now)

    assert added.usual is None
    with pytest.raises(RowTwice):
        policy.add_row(kind=Kind.PICKUP, said=said(days=-3, at=time(18)), by=perpetua, at=now)
    with pytest.raises(OneIsEnough):
        policy.add_row(kind=Kind.FAULT, said=said(days=None, addressed="both"), by=perpetua, at=now)


def test_a_row_is_switched_off_and_on_but_none_of_safety(rows, perpetua, now):
    row = policy.switch_row(row=rows["pickup-1"], is_on=False, by=perpetua, at=now)
    policy.switch_row(row=row, is_on=False, by=perpetua, at=now)

    assert Entry.objects.filter(deed="reminder_switched").count() == 1
    for usual in ("fault", "test-first-14", "late-kit", "test-overdue"):
        with pytest.raises(StaysOn):
            policy.switch_row(row=rows[usual], is_on=False, by=perpetua, at=now)


def test_back_to_the_usual_rows_whatever_was_done(rows, perpetua, now):
    before = [in_words(row) for row in ReminderRow.objects.in_order()]
    policy.change_row(row=rows["pickup-1"], said=said(days=-4), by=perpetua, at=now)
    policy.add_row(kind=Kind.PICKUP, said=said(days=-1), by=perpetua, at=now)  # where a usual one belongs
    policy.switch_row(row=rows["relay-1"], is_on=False, by=perpetua, at=now)
    policy.switch_row(row=rows["lay-up-0"], is_on=True, by=perpetua, at=now)

    count = policy.back_to_usual(by=perpetua, at=now)

    assert count == 4
    assert [in_words(row) for row in ReminderRow.objects.in_order()] == before
    assert {row.usual for row in ReminderRow.objects.on()} == {row.usual for row in rows.values() if row.is_on}
    assert policy.back_to_usual(by=perpetua, at=now) == 0


# What rounds do by the rows


def test_what_was_told_before_is_not_told_again_by_a_row_that_was_changed_or_made_anew(rows, agreed, perpetua, now):
    reminders.write_due_reminders(at=on(10))
    policy.change_row(row=rows["pickup-1"], said=said(days=-2, at=time(6)), by=perpetua, at=now)
    changed = reminders.write_due_reminders(at=on(10, 12))
    policy.back_to_usual(by=perpetua, at=now)

    assert (changed, reminders.write_due_reminders(at=on(10, 13))) == (0, 0)


def test_a_row_that_is_off_tells_nobody_and_one_that_was_added_tells_by_itself(rows, agreed, perpetua, now):
    policy.switch_row(row=rows["pickup-1"], is_on=False, by=perpetua, at=now)
    row = policy.add_row(kind=Kind.PICKUP, said=said(days=-3, at=time(18, 30)), by=perpetua, at=now)

    written = [reminders.write_due_reminders(at=at) for at in (on(8, 18, 29), on(8, 18, 30), on(8, 19), on(10, 9))]

    assert written == [0, 1, 0, 0]
    assert Message.objects.get(key__startswith=f"reminder:{row.pk}:{agreed.pk}:").to_name == "Sunniva Okparadine"


@pytest.mark.parametrize(
    ("by", "channels"), [("mail", ["mail"]), ("call", ["telephone"]), ("both", ["mail", "telephone"])]
)
def test_a_row_goes_by_the_channel_that_it_says(rows, agreed, perpetua, now, by, channels):
    policy.change_row(row=rows["pickup-1"], said=said(days=-1, by=by), by=perpetua, at=now)

    for hour in (8, 9):
        reminders.write_due_reminders(at=on(10, hour))

    found = Message.objects.filter(key__contains="pickup-tomorrow:")
    assert sorted(found.values_list("channel", flat=True)) == channels


def test_whoever_has_no_address_is_telephoned_once_by_a_row_for_both(rows, agreed, sunniva, perpetua, now):
    policy.change_row(row=rows["pickup-1"], said=said(days=-1, by="both"), by=perpetua, at=now)
    type(sunniva).objects.filter(pk=sunniva.pk).update(email=None)

    assert reminders.write_due_reminders(at=on(10)) == 1
    assert Message.objects.get(key__contains="pickup-tomorrow:").channel == Channel.TELEPHONE


def test_an_overdue_return_rises_to_the_coordinators_by_steps(rows, out, perpetua, now):
    for usual, days, addressed in (
        ("overdue-1", 1, Addressed.BORROWER),
        ("overdue-2", 2, Addressed.BORROWER),
        ("overdue-3", 3, Addressed.COORDINATORS),
    ):
        policy.change_row(row=rows[usual], said=said(days=days, addressed=addressed), by=perpetua, at=now)
    policy.add_row(kind=Kind.OVERDUE, said=said(days=4), by=perpetua, at=now)
    Message.objects.all().delete()

    told = {}
    for day in range(14, 20):
        reminders.write_due_reminders(at=on(day))
        told[day] = list(Message.objects.order_by("pk").values_list("to_name", flat=True))
        Message.objects.update(to_name="")

    new = {day: [name for name in names if name] for day, names in told.items()}
    assert new == {
        14: ["Sunniva Okparadine"],
        15: ["Sunniva Okparadine"],
        16: ["Perpetua Quillstone"],
        17: ["Sunniva Okparadine"],
        18: [],
        19: [],
    }


def test_a_warning_goes_out_though_another_letter_cannot_be_written(rows, agreed, mill, stop, monkeypatch):
    stop(mill)

    def broken(*_facts):
        raise LookupError("a letter that cannot be written")

    monkeypatch.setattr(reminders, "write", broken)
    with pytest.raises(LookupError):
        reminders.write_due_reminders(at=on(10))

    assert Message.objects.filter(key__startswith="booking-at-risk").count() == 2


@pytest.mark.parametrize("by", ["mail", "call", "both"])
def test_whoever_wants_no_reminders_has_none_by_any_channel(rows, agreed, sunniva, perpetua, now, by):
    policy.change_row(row=rows["pickup-1"], said=said(days=-1, by=by), by=perpetua, at=now)
    type(sunniva).objects.filter(pk=sunniva.pk).update(wants_reminders=False)

    reminders.write_due_reminders(at=on(10))

    found = Message.objects.filter(key__contains="pickup-tomorrow:")
    assert set(found.values_list("channel", flat=True)) == {Channel.UNWANTED}


def test_what_is_needed_before_a_quiet_night_ends_is_not_kept_back(rows, agreed, sunniva, perpetua, now):
    """The return is due at nine in the morning: a daily letter at eight in the evening would be of no use."""
    type(sunniva).objects.filter(pk=sunniva.pk).update(digest_at=time(20))
    bookings.mark_out(booking=agreed, by=sunniva, at=on(11))

    reminders.write_due_reminders(at=on(13, 7))

    message = Message.objects.get(key__startswith="return-due:")
    assert (message.digest_on, message.due_at) == (None, on(13, 7))
