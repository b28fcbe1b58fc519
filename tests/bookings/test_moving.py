"""Moving a booking: other days or the old ones, never neither; and what a look beforehand says."""

from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from django.db.models import F

from kitshare.bookings import moving, relays
from kitshare.bookings.models import BookedDay, Booking, Stage
from kitshare.bookings.refusals import (
    ChangedMeanwhile,
    DayIsPast,
    MachineTaken,
    NotAtThisStage,
    NotTheirs,
    OutsideSeason,
)
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.people.models import Scheme
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


@pytest.fixture
def move(perpetua, now, today):
    def move(booking, period, **changes):
        given = {"by": perpetua, "at": now, "today": today, "revision": booking.revision}
        return moving.move_booking(booking=booking, period=period, **(given | changes))

    return move


@pytest.fixture
def look(perpetua, today):
    def look(booking, period, by=None):
        machines = list(booking.machines.select_related("kit"))
        return moving.look_at_move(booking=booking, machines=machines, period=period, by=by or perpetua, today=today)

    return look


def held(booking) -> list[int]:
    return list(booking.days.order_by("day").values_list("day__day", flat=True))


def test_a_moved_booking_holds_the_new_days_and_no_old_ones(agreed, move, mill):
    booking = agreed()

    moved = move(booking, september(18, 20))

    assert moved.period == september(18, 20)
    assert moved.stage == Stage.AGREED
    assert held(moved) == [18, 19, 20]  # two days and one to clean
    assert moved.sequence == booking.sequence + 1


def test_if_the_new_days_are_taken_the_old_ones_are_still_held(agreed, ask, move, fennerlow, leilani):
    booking = agreed()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(18, 20))

    with pytest.raises(MachineTaken, match="with Fennerlow from Sat 18 Sep") as refusal:
        move(booking, september(19, 21))

    booking.refresh_from_db()
    assert held(booking) == [11, 12, 13]
    assert booking.period == september(11, 13)
    assert refusal.value.nearest


def test_a_booking_may_move_onto_its_own_days(agreed, move):
    assert held(move(agreed(), september(12, 14))) == [12, 13, 14]


def test_a_move_is_written_down_and_told_with_the_new_days_for_the_calendar(agreed, move, sunniva):
    moved = move(agreed(), september(18, 20))

    [line] = Entry.objects.about(moved).filter(deed="booking_changed")
    assert "Days now: Sat 18 Sep to Mon 20 Sep." in line.text
    told = Message.objects.get(key__startswith=f"booking-changed:{moved.pk}:")
    assert told.to_name == sunniva.name
    assert f"SEQUENCE:{moved.sequence}" in told.calendar
    assert "DTSTART;VALUE=DATE:20270918" in told.calendar


def test_nothing_else_changes_not_even_the_weight_when_a_crate_is_weighed_anew(agreed, move):
    booking = agreed()
    Scheme.objects.update(crate_kg=F("crate_kg") * 2)

    moved = move(booking, september(18, 20))

    assert (moved.fruit_amount, moved.fruit_unit, moved.fruit_kg) == (Decimal(20), "crate", Decimal(320))


def test_a_borrower_moves_their_own_and_it_waits_again(agreed, move, look, sunniva, leilani):
    booking = agreed()

    assert look(booking, september(18, 20), by=sunniva).waits_again
    assert not look(booking, september(18, 20)).waits_again
    with pytest.raises(NotTheirs):
        move(booking, september(18, 20), by=leilani)
    assert move(booking, september(18, 20), by=sunniva).stage == Stage.ASKED


def test_the_second_of_two_tabs_is_told_what_the_first_one_did(agreed, move):
    booking = agreed()
    move(booking, september(18, 20))

    with pytest.raises(ChangedMeanwhile, match="Days now: Sat 18 Sep to Mon 20 Sep"):
        move(booking, september(25, 27), revision=booking.revision)


@pytest.mark.parametrize(
    ("start", "refusal"),
    [(date(2027, 8, 30), DayIsPast), (date(2027, 12, 4), OutsideSeason), (date(2027, 11, 30), OutsideSeason)],
)
def test_days_that_cannot_be_are_refused_by_the_look_and_by_the_deed(agreed, move, look, start, refusal):
    booking = agreed()
    period = booking.period.shifted((start - booking.out_on).days)

    with pytest.raises(refusal):
        look(booking, period)
    with pytest.raises(refusal):
        move(booking, period)

    assert held(Booking.objects.get()) == [11, 12, 13]


def test_what_has_left_does_not_move(agreed, move, look):
    booking = agreed()
    Booking.objects.update(stage=Stage.OUT)
    booking.refresh_from_db()

    with pytest.raises(NotAtThisStage):
        look(booking, september(18, 20))
    with pytest.raises(NotAtThisStage):
        move(booking, september(18, 20))


def test_a_look_says_who_is_told_and_changes_nothing(agreed, look, perpetua, sunniva):
    booking = agreed()
    before = (Message.objects.count(), Entry.objects.count(), BookedDay.objects.count())

    by_coordinator, by_borrower = look(booking, september(18, 20)), look(booking, september(18, 20), by=sunniva)

    assert by_coordinator.told == [sunniva]
    assert by_borrower.told == [perpetua, sunniva]  # her calendar is sent the new days
    assert by_coordinator.days_later == 7
    assert (Message.objects.count(), Entry.objects.count(), BookedDay.objects.count()) == before


def test_whom_the_look_names_is_told_and_nobody_else(agreed, move, look, sunniva):
    booking = agreed()
    named = {member.pk for member in look(booking, september(18, 20), by=sunniva).told}

    moved = move(booking, september(18, 20), by=sunniva)

    keys = Message.objects.filter(key__startswith=f"booking-changed:{moved.pk}:{moved.revision}:")
    assert {int(key.rsplit(":", 1)[1]) for key in keys.values_list("key", flat=True)} == named


def test_a_relay_that_a_move_ends_is_named_beforehand(agreed, look, move, fennerlow, leilani, perpetua, now, today):
    first = agreed()
    second = agreed(village=fennerlow, borrower=leilani, by=leilani, period=september(14, 16))
    relay = relays.arrange_relay(
        first=first,
        second=second,
        period=september(13, 15),
        carried_by="Fennerlow's trailer",
        meet_at="The bridge",
        meet_time=time(10),
        by=perpetua,
        at=now,
        today=today,
        first_revision=first.revision,
        revision=second.revision,
    )
    second = relay.second

    assert look(second, september(18, 20)).relays_ended == [relay]
    assert look(second, second.period).relays_ended == []
    move(second, september(18, 20), at=now + timedelta(minutes=1))
    assert held(first) == [11, 12, 13]


def test_the_spells_that_fit_leave_room_for_care_and_begin_with_the_nearest(agreed, ask, fennerlow, leilani, today):
    booking = agreed()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(16, 18))

    fits = moving.days_that_fit(booking=booking, machines=list(booking.machines.all()), today=today)

    assert fits[:3] == [september(10, 12), september(12, 14), september(9, 11)]
    assert september(11, 13) not in fits
    assert september(13, 15) in fits
    assert september(14, 16) not in fits  # its care day would be the 16th
    assert september(19, 21) in fits
