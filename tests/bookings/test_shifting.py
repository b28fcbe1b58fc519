"""Shifting all bookings of a machine: all of them or none, whoever is told, and what stands in the way in words."""

from datetime import date, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing, relays, shifting
from kitshare.bookings.models import BookedDay, Booking, ClosedKind, DayKind, Stage
from kitshare.bookings.refusals import DayIsPast, NotTheirs
from kitshare.bookings.relay_models import Relay
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


@pytest.fixture
def theirs(fennerlow, leilani):
    """That a booking is Fennerlow's."""
    return {"village": fennerlow, "borrower": leilani, "by": leilani}


@pytest.fixture
def two(agreed, ask, theirs, mill, press):
    """Sorrelhythe has mill and press agreed from the 11th, Fennerlow asks for the mill from the 14th."""
    return agreed(machines=[mill, press]), ask(period=september(14, 16), **theirs)


@pytest.fixture
def asked(mill, perpetua, today):
    return {"machine": mill, "by_days": 3, "from_day": today, "by": perpetua, "today": today}


@pytest.fixture
def shift(asked, now):
    """Look it over, then shift what was seen."""

    def shift(**changes):
        given = asked | changes
        seen = given.pop("seen", None)
        seen = shifting.look_at_shift(**given).seen if seen is None else seen
        return shifting.shift_bookings(**given, seen=seen, at=now)

    return shift


def days_of(machine) -> dict[int, str]:
    return dict(machine.days.order_by("day").values_list("day__day", "kind"))


@pytest.mark.parametrize("by_days", [-2, 1, 2, 3, 30])
def test_all_bookings_move_by_the_same_days_even_onto_each_others(two, shift, by_days):
    before = {booking.pk: booking.period for booking in two}

    shift(by_days=by_days)

    assert {booking.pk: booking.period for booking in Booking.objects.all()} == {
        key: period.shifted(by_days) for key, period in before.items()
    }
    assert BookedDay.objects.count() == 9  # three machine bookings of two days, a day of care each
    for booking in Booking.objects.all():
        assert booking.days.filter(kind=DayKind.BOOKED).order_by("day").first().day == booking.out_on


def test_each_keeps_its_stage_and_rises_by_one_for_calendars(two, shift):
    shift()

    after = list(Booking.objects.order_by("pk"))
    assert [booking.stage for booking in after] == [Stage.AGREED, Stage.ASKED]
    assert [booking.sequence for booking in after] == [booking.sequence + 1 for booking in two]
    assert [booking.revision for booking in after] == [booking.revision + 1 for booking in two]


def test_each_borrower_is_told_once_and_an_agreed_one_gets_the_new_days_for_the_calendar(two, shift, asked):
    told = shifting.look_at_shift(**asked).told
    before = set(Message.objects.values_list("pk", flat=True))

    shift()

    messages = Message.objects.exclude(pk__in=before).order_by("pk")
    assert [message.to_name for message in messages] == ["Sunniva Okparadine", "Leilani Crabbwater"]
    assert [member.name for member in told] == ["Sunniva Okparadine", "Leilani Crabbwater"]
    assert "DTSTART;VALUE=DATE:20270914" in messages[0].calendar
    assert f"SEQUENCE:{two[0].sequence + 1}" in messages[0].calendar
    assert "Days now: Fri 17 Sep to Sun 19 Sep." in messages[1].body
    assert "They were: Tue 14 Sep to Thu 16 Sep." in messages[1].body


def test_each_booking_and_the_machine_have_it_in_the_logbook(two, shift, mill):
    shift(by_days=-2)

    for booking in two:
        assert "Days now:" in Entry.objects.about(booking).filter(deed="booking_changed").get().text
    line = Entry.objects.about(mill).get(deed="bookings_shifted")
    assert line.text == "Perpetua Quillstone shifted all bookings of Heron mill still to go (2) by -2 days."


def test_bookings_that_go_out_sooner_and_of_other_machines_stay(two, shift, ask, otter_mill):
    other = ask(machines=[otter_mill])

    shift(from_day=date(2027, 9, 12))

    two[0].refresh_from_db()
    other.refresh_from_db()
    assert two[0].period == other.period == september(11, 13)
    assert Booking.objects.get(village__name="Fennerlow").period == september(17, 19)


def test_whatever_stands_in_the_way_of_one_stops_all_and_is_named(
    two, shift, ask, asked, theirs, press, mill, perpetua, now, today
):
    ask(machines=[press], period=september(15, 17), **theirs)
    closing.close_days(
        kind=ClosedKind.SERVICE,
        depot=None,
        machines=[mill],
        first_day=date(2027, 9, 19),
        last_day=date(2027, 9, 20),
        reason="A new belt",
        by=perpetua,
        at=now,
        today=today,
    )
    before = set(BookedDay.objects.values_list("machine", "day", "booking"))

    look = shifting.look_at_shift(**asked)
    with pytest.raises(shifting.ShiftBlocked) as refusal:
        shift()

    words = [
        "Sorrelhythe, Sat 11 Sep to Mon 13 Sep: Heron press: with Fennerlow from Wed 15 Sep to Fri 17 Sep.",
        "Fennerlow, Tue 14 Sep to Thu 16 Sep: Heron mill: closed from Sun 19 Sep to Mon 20 Sep: A new belt.",
    ]
    assert [str(obstacle) for obstacle in look.obstacles] == words
    assert [str(obstacle) for obstacle in refusal.value.obstacles] == words
    assert set(BookedDay.objects.values_list("machine", "day", "booking")) == before


@pytest.mark.parametrize(
    ("by_days", "words"),
    [(-11, ["Tue 31 Aug is past"]), (-14, ["Sat 28 Aug is past", "Tue 31 Aug is past"])],
)
def test_none_begins_in_the_past(two, asked, by_days, words):
    obstacles = shifting.look_at_shift(**(asked | {"by_days": by_days})).obstacles

    assert [word in str(obstacle) for word, obstacle in zip(words, obstacles, strict=True)] == [True] * len(words)


def test_none_leaves_its_season(two, asked, ask, season, theirs):
    ask(period=september(20, 22).shifted(60), **theirs)  # 19 to 21 November; the season closes on the 30th

    obstacles = shifting.look_at_shift(**(asked | {"by_days": 11})).obstacles

    assert len(obstacles) == 1
    assert "Outside the season." in str(obstacles[0])


def test_what_came_or_changed_after_the_look_is_not_shifted_unseen(two, asked, shift, ask, theirs, change):
    seen = shifting.look_at_shift(**asked).seen
    ask(period=september(25, 27), **theirs)

    with pytest.raises(shifting.ShiftChangedMeanwhile):
        shift(seen=seen)

    seen = shifting.look_at_shift(**asked).seen
    change(two[0], note="Two trailers.")
    with pytest.raises(shifting.ShiftChangedMeanwhile):
        shift(seen=seen)
    assert set(Booking.objects.values_list("out_on__day", flat=True)) == {11, 14, 25}


def test_a_relay_of_which_both_ends_shift_stands_and_one_that_is_cut_ends(
    agreed, shift, asked, theirs, perpetua, now, today
):
    first = agreed()
    second = agreed(period=september(14, 16), **theirs)
    relays.arrange_relay(
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

    assert shifting.look_at_shift(**asked).relays_ended == []
    shift()
    assert list(days_of(first.machines.get())) == [14, 15, 16, 17, 18]
    assert Relay.objects.count() == 1

    cut = {"from_day": date(2027, 9, 15)}
    assert len(shifting.look_at_shift(**(asked | cut)).relays_ended) == 1
    shift(**cut)
    assert list(days_of(first.machines.get())) == [14, 15, 16, 19, 20, 21]
    assert Relay.objects.count() == 0


def test_only_a_coordinator_shifts_and_only_what_can_be(two, shift, asked, sunniva, teodor, today, otter_mill, now):
    for member in (sunniva, teodor):
        with pytest.raises(NotTheirs):
            shifting.look_at_shift(**(asked | {"by": member}))
        with pytest.raises(NotTheirs):
            shifting.shift_bookings(**(asked | {"by": member}), seen={}, at=now)
    for by_days in (0, shifting.MOST_DAYS + 1, -shifting.MOST_DAYS - 1):
        with pytest.raises(shifting.ShiftNotSensible):
            shifting.look_at_shift(**(asked | {"by_days": by_days}))
    with pytest.raises(DayIsPast):
        shifting.look_at_shift(**(asked | {"from_day": today - timedelta(days=1)}))
    with pytest.raises(shifting.NothingToShift):
        shifting.look_at_shift(**(asked | {"machine": otter_mill}))


def test_what_is_out_stays(agreed, two, shift, now, perpetua):
    bookings.mark_out(booking=two[0], by=perpetua, at=now + timedelta(days=10))

    shift()

    two[0].refresh_from_db()
    assert two[0].period == september(11, 13)


def test_a_look_costs_the_same_for_one_booking_and_for_twelve(asked, ask):
    counts = []
    for many in (1, 12):
        for number in range(Booking.objects.count(), many):
            ask(period=september(2, 3).shifted(4 * number))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            shifting.look_at_shift(**asked)
        counts.append(len(queries))

    assert counts[0] == counts[1] <= 6
