"""Bringing bookings in: all or nothing, once, and told to whom it was chosen."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import BookedDay, Booking, DayKind, Stage
from kitshare.bookings.refusals import NotTheirs
from kitshare.bringing import actions as bringing
from kitshare.bringing.models import BroughtFile, ComingAs, Telling
from kitshare.bringing.refusals import CannotTakeBack, NotAllFit, NothingToMake, PeopleWereTold, TakenBack
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.pressdays.models import PressPlan
from kitshare.upkeep.use import Use, use_since
from tests.bookings.conftest import ask
from tests.bringing.conftest import table

__all__ = ["ask"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def world(season, sorrelhythe, fennerlow, mill, press, otter_mill):
    """Two villages with one borrower each, and three machines."""


def test_a_booking_is_made_as_the_row_says(bring, sorrelhythe, sunniva, mill, now):
    brought = bring(table({"note": "Two trailers", "fruit_amount": "20", "fruit_unit": "crates"}))

    booking = Booking.objects.get()
    assert (booking.village, booking.borrower, booking.stage) == (sorrelhythe, sunniva, Stage.AGREED)
    assert (booking.out_on, booking.back_on) == (date(2027, 9, 11), date(2027, 9, 13))
    assert (booking.fruit_amount, booking.fruit_unit, booking.fruit_kg) == (20, "crate", 320)
    assert (booking.note, booking.revision, booking.asked_at) == ("Two trailers", 1, now)
    assert list(booking.machines.all()) == [mill]
    assert list(brought.bookings.all()) == [booking]


def test_machines_of_past_bookings_are_taken_to_have_done_their_fruit_until_they_are_taken_back(
    bring, mill, perpetua, now
):
    row = {"out_on": "2027-08-20", "back_on": "2027-08-22", "fruit_amount": "20", "fruit_unit": "crates"}
    brought = bring(table(row, {}))

    done = use_since([mill])
    bringing.take_back(brought=brought, by=perpetua, at=now)

    assert done == {mill.pk: Use(kg=Decimal(320), outings=1)}
    assert use_since([mill]) == {}


def test_the_days_are_held_and_the_care_days_after_them(bring, mill):
    bring(table({}))

    assert list(BookedDay.objects.order_by("day").values_list("machine", "day", "kind")) == [
        (mill.pk, date(2027, 9, 11), DayKind.BOOKED),
        (mill.pk, date(2027, 9, 12), DayKind.BOOKED),
        (mill.pk, date(2027, 9, 13), DayKind.CARE),
    ]


def test_each_booking_has_its_line_in_the_logbook(bring, perpetua):
    bring(table({}, {"out_on": "2027-09-18", "back_on": "2027-09-20"}))

    lines = Entry.objects.filter(deed="booking_brought_in").order_by("pk")
    assert [line.by_name for line in lines] == ["Perpetua Quillstone"] * 2
    assert "Sorrelhythe from a file: Heron mill, Sat 11 Sep to Mon 13 Sep." in lines[0].text
    assert list(Entry.objects.about(Booking.objects.order_by("pk")[0])) == [lines[0]]


def test_one_row_in_the_way_keeps_all_from_being_made(bring):
    with pytest.raises(NotAllFit, match="1 row"):
        bring(table({}, {"village": "Nowhere"}))

    assert not Booking.objects.exists()
    assert not BookedDay.objects.exists()
    assert not Entry.objects.filter(deed="booking_brought_in").exists()


def test_days_that_were_taken_since_the_look_keep_all_from_being_made(sent, ask, perpetua, now, today):
    brought = sent(table({"machines": "Otter mill", "village": "Fennerlow"}, {}))
    ask()

    with pytest.raises(NotAllFit):
        bringing.bring_in(brought=brought, by=perpetua, at=now, today=today)

    assert Booking.objects.count() == 1
    assert BroughtFile.objects.get().brought_at is None


def test_a_second_tap_makes_nothing_more(sent, perpetua, now, today):
    brought = sent(table({}))

    first = bringing.bring_in(brought=brought, by=perpetua, at=now, today=today)
    second = bringing.bring_in(brought=brought, by=perpetua, at=now + timedelta(seconds=1), today=today)

    assert second.brought_at == first.brought_at
    assert Booking.objects.count() == 1


def test_the_same_file_again_finds_everything_here(bring):
    data = table({}, {"reference": "paper 7", "out_on": "2027-09-18", "back_on": "2027-09-20"})
    bring(data)

    with pytest.raises(NothingToMake):
        bring(data)

    assert Booking.objects.count() == 2


def test_nobody_is_told_unless_it_was_chosen(bring):
    bring(table({}))

    assert not Message.objects.exists()


def test_each_borrower_is_told_once_of_all_that_is_to_come(bring, sunniva, leilani):
    bring(
        table(
            {},
            {"out_on": "2027-09-18", "back_on": "2027-09-20"},
            {"out_on": "2027-08-18", "back_on": "2027-08-20"},
            {"village": "Fennerlow", "machines": "Otter mill"},
        ),
        telling=Telling.BORROWERS,
    )

    messages = {message.to_name: message.body for message in Message.objects.all()}
    assert set(messages) == {"Sunniva Okparadine", "Leilani Crabbwater"}
    assert "Sat 11 Sep to Mon 13 Sep, agreed: Heron mill" in messages["Sunniva Okparadine"]
    assert "Sat 18 Sep" in messages["Sunniva Okparadine"]
    assert "Aug" not in messages["Sunniva Okparadine"]


def test_bookings_to_come_may_wait_for_a_coordinator(bring):
    bring(table({}, {"stage": "agreed", "out_on": "2027-09-18", "back_on": "2027-09-20"}), coming_as=ComingAs.ASKED)

    assert list(Booking.objects.order_by("out_on").values_list("stage", flat=True)) == [Stage.ASKED, Stage.AGREED]


def test_what_is_over_is_closed_and_holds_its_days(bring):
    bring(table({"out_on": "2027-08-18", "back_on": "2027-08-20"}))

    assert Booking.objects.get().stage == Stage.CLOSED
    assert BookedDay.objects.filter(kind=DayKind.BOOKED).count() == 2


def test_a_kit_handed_on_the_same_day_is_no_clash_in_history(bring):
    bring(
        table(
            {"out_on": "2027-08-18", "back_on": "2027-08-20"},
            {"village": "Fennerlow", "out_on": "2027-08-20", "back_on": "2027-08-22"},
        )
    )

    kinds = BookedDay.objects.order_by("day").values_list("day__day", "kind")
    assert list(kinds) == [(18, "booked"), (19, "booked"), (20, "booked"), (21, "booked"), (22, "care")]


def test_only_coordinators_bring_in(sent, sunniva, now, today):
    brought = sent(table({}))

    with pytest.raises(NotTheirs):
        bringing.bring_in(brought=brought, by=sunniva, at=now, today=today)


def test_what_was_made_can_be_taken_back_while_nothing_happened_to_it(bring, perpetua, now, today):
    brought = bring(table({}, {"out_on": "2027-09-18", "back_on": "2027-09-20"}))

    bringing.take_back(brought=brought, by=perpetua, at=now)

    assert not Booking.objects.exists()
    assert not BookedDay.objects.exists()
    assert Entry.objects.filter(deed="booking_taken_back").count() == 2
    with pytest.raises(TakenBack):
        bringing.bring_in(brought=brought, by=perpetua, at=now, today=today)


def test_one_booking_that_moved_on_keeps_all(bring, perpetua, sunniva, now, today):
    brought = bring(table({}, {"stage": "asked", "out_on": "2027-09-18", "back_on": "2027-09-20"}))
    asked = Booking.objects.get(stage=Stage.ASKED)
    bookings.agree(booking=asked, by=perpetua, at=now, today=today, revision=1)

    with pytest.raises(CannotTakeBack, match="Sorrelhythe, Sat 18 Sep"):
        bringing.take_back(brought=brought, by=perpetua, at=now)

    assert Booking.objects.count() == 2


def test_a_plan_that_somebody_made_keeps_all(bring, perpetua, sunniva, now):
    brought = bring(table({}))
    PressPlan.objects.create(booking=Booking.objects.get(), changed_at=now, changed_by=sunniva)

    with pytest.raises(CannotTakeBack):
        bringing.take_back(brought=brought, by=perpetua, at=now)


def test_what_borrowers_were_told_of_is_called_off_singly(bring, perpetua, now):
    brought = bring(table({}), telling=Telling.BORROWERS)

    with pytest.raises(PeopleWereTold):
        bringing.take_back(brought=brought, by=perpetua, at=now)


def test_a_file_is_forgotten_after_a_week_and_its_bookings_stay(bring, sent, now):
    bring(table({}))
    sent(table({}))

    assert bringing.sweep(at=now + timedelta(days=6)) == 0
    assert bringing.sweep(at=now + timedelta(days=8)) == 2
    assert Booking.objects.count() == 1


def test_a_file_that_was_only_looked_at_can_be_thrown_away(sent, bring, perpetua):
    looked_at, brought = sent(table({})), bring(table({}))

    bringing.throw_away(brought=looked_at, by=perpetua)
    bringing.throw_away(brought=brought, by=perpetua)

    assert list(BroughtFile.objects.all()) == [brought]


def test_nothing_is_taken_back_that_was_never_brought_in(sent, now):
    brought = sent(table({}))

    with pytest.raises(IntegrityError, match="brought_in_before_taken_back"), transaction.atomic():
        BroughtFile.objects.filter(pk=brought.pk).update(taken_back_at=now)
