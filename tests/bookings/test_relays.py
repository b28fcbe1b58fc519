"""Relays: arranged between two bookings, and what becomes of the care days when one is arranged, undone or overtaken."""

from datetime import date, time

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings import relays
from kitshare.bookings.models import BookedDay, Booking, DayKind
from kitshare.bookings.refusals import ChangedMeanwhile, GoesByRelay, MachineTaken, NotAtThisStage, NotTheirs
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import CareInTheWay, MeetsInRelay, NoRelay
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


@pytest.fixture
def first(agreed):
    """Sorrelhythe has the Heron mill from Sat 11 to Mon 13 Sep; Monday is for care."""
    return agreed()


@pytest.fixture
def second(ask, fennerlow, leilani, first):
    """Fennerlow asks for it from Tue 14 to Thu 16 Sep."""
    return ask(village=fennerlow, borrower=leilani, by=leilani, period=september(14, 16))


@pytest.fixture
def arrange(first, second, perpetua, now, today):
    def arrange(**changes) -> Relay:
        first.refresh_from_db()
        second.refresh_from_db()
        said = {
            "first": first,
            "second": second,
            "period": september(13, 16),
            "carried_by": "Sorrelhythe, with the trailer",
            "meet_at": "Barn by the standpipe",
            "meet_time": time(8, 30),
            "by": perpetua,
            "at": now,
            "today": today,
            "first_revision": first.revision,
            "revision": second.revision,
        }
        return relays.arrange_relay(**(said | changes))

    return arrange


def rows(booking: Booking) -> list[tuple[int, str]]:
    """The days of September that a booking holds, and as what."""
    return [(row.day.day, row.kind) for row in BookedDay.objects.filter(booking=booking).order_by("day")]


def booked(*days: int) -> list[tuple[int, str]]:
    return [(day, DayKind.BOOKED) for day in days]


def care(*days: int) -> list[tuple[int, str]]:
    return [(day, DayKind.CARE) for day in days]


def test_a_relay_moves_the_second_up_drops_the_care_days_and_agrees_it(arrange, first, second):
    relay = arrange()

    first.refresh_from_db()
    second.refresh_from_db()
    assert rows(first) == booked(11, 12)
    assert rows(second) == booked(13, 14, 15) + care(16)
    assert (second.stage, second.out_on) == ("agreed", date(2027, 9, 13))
    assert first.back_time == second.out_time == time(8, 30)
    assert (relay.first, relay.second) == (first, second)


def test_both_villages_are_told_who_where_when_and_what_to_mind(arrange, sunniva, leilani):
    arrange()

    for borrower in (sunniva, leilani):
        body = Message.objects.filter(member_key=borrower.pk, key__startswith="booking-relay-arranged").get().body
        assert "Sorrelhythe hands Heron mill straight to Fennerlow." in body
        assert (
            "They meet on Mon 13 Sep at 08:30. Where: Barn by the standpipe. Who carries it: Sorrelhythe, with" in body
        )
        assert "The guard is on and the plug is out before anybody lifts." in body


def test_both_revisions_rise_and_the_logbook_says_so_on_both(arrange, first, second):
    revisions = first.revision, second.revision
    arrange()

    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.revision, second.revision) == (revisions[0] + 1, revisions[1] + 1)
    assert [Entry.objects.about(one).filter(deed="booking_relay_arranged").count() for one in (first, second)] == [1, 1]


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"carried_by": "  "}, NoRelay),
        ({"meet_at": ""}, NoRelay),
        ({"period": september(14, 16)}, NoRelay),
        ({"revision": 77}, ChangedMeanwhile),
        ({"first_revision": 77}, ChangedMeanwhile),
    ],
)
def test_what_cannot_be_arranged_leaves_everything_as_it_was(arrange, first, second, changes, error):
    with pytest.raises(error):
        arrange(**changes)

    assert not Relay.objects.exists()
    assert rows(first) == booked(11, 12) + care(13)
    assert rows(second) == booked(14, 15) + care(16)


def test_only_a_coordinator_arranges(arrange, sunniva):
    with pytest.raises(NotTheirs):
        arrange(by=sunniva)


def test_a_relay_hands_on_everything(arrange, first, change, mill, press):
    change(first, machines=[mill, press])

    with pytest.raises(NoRelay, match="the same machines"):
        arrange()


def test_days_that_a_third_has_refuse_the_relay_in_words(arrange, agreed, first, second):
    third = agreed(period=september(18, 20))

    with pytest.raises(MachineTaken, match="with Sorrelhythe from Sat 18 Sep"):
        arrange(period=september(13, 19))

    assert rows(first) == booked(11, 12) + care(13)
    assert rows(third) == booked(18, 19) + care(20)


def test_a_called_off_booking_gives_nothing_on(arrange, first, sunniva, now):
    bookings.call_off(booking=first, reason="", by=sunniva, at=now, revision=first.revision)

    with pytest.raises(NotAtThisStage):
        arrange()


def test_a_booking_is_handed_on_once(arrange, ask, first, fennerlow, leilani):
    arrange()
    third = ask(village=fennerlow, borrower=leilani, by=leilani, period=september(20, 22))

    with pytest.raises(NoRelay, match="in such a relay already"):
        arrange(second=third, period=september(13, 15), revision=third.revision)


def test_the_database_holds_relay_joins_two_bookings(first, perpetua, now):
    with pytest.raises(IntegrityError, match="relay_joins_two_bookings"), transaction.atomic():
        Relay.objects.create(
            first=first, second=first, carried_by="x", meet_at="x", arranged_by=perpetua, arranged_at=now
        )


def test_a_change_of_details_is_told_to_both(arrange, perpetua, now, second, sunniva, leilani):
    relay = arrange()
    second.refresh_from_db()

    relays.change_relay(
        relay=relay,
        carried_by="Fennerlow",
        meet_at="Bridge",
        meet_time=time(7),
        by=perpetua,
        at=now,
        revision=second.revision,
    )

    told = Message.objects.filter(key__startswith="booking-relay-changed")
    assert {message.member_key for message in told} == {sunniva.pk, leilani.pk}
    assert all("Mon 13 Sep at 07:00. Where: Bridge." in message.body for message in told)


def test_undone_the_care_days_come_back_and_the_second_has_days_of_its_own(
    arrange, first, second, perpetua, now, today
):
    relay = arrange()
    second.refresh_from_db()

    relays.undo_relay(relay=relay, period=september(14, 16), by=perpetua, at=now, today=today, revision=second.revision)

    assert rows(first) == booked(11, 12) + care(13)
    assert rows(second) == booked(14, 15) + care(16)
    assert not Relay.objects.exists()


def test_it_is_not_undone_while_the_second_has_the_care_day(arrange, first, second, perpetua, now, today):
    relay = arrange()
    second.refresh_from_db()

    with pytest.raises(MachineTaken, match="cleaning and drying after Sorrelhythe"):
        relays.undo_relay(
            relay=relay, period=september(13, 16), by=perpetua, at=now, today=today, revision=second.revision
        )

    assert rows(first) == booked(11, 12)
    assert Relay.objects.count() == 1


def test_calling_off_the_second_brings_the_care_days_back_and_tells_the_first(
    arrange, first, second, leilani, sunniva, now
):
    arrange()
    second.refresh_from_db()

    bookings.call_off(booking=second, reason="No fruit.", by=leilani, at=now, revision=second.revision)

    assert rows(first) == booked(11, 12) + care(13)
    assert not Relay.objects.exists()
    told = Message.objects.get(member_key=sunniva.pk, key__startswith="booking-relay-undone")
    assert "The relay is undone" in told.body


def test_calling_off_the_first_sends_the_second_to_the_depot(arrange, first, second, sunniva, leilani, now):
    arrange()
    first.refresh_from_db()

    bookings.call_off(booking=first, reason="", by=sunniva, at=now, revision=first.revision)

    assert rows(second) == booked(13, 14, 15) + care(16)
    assert not Relay.objects.exists()
    assert Message.objects.filter(member_key=leilani.pk, key__startswith="booking-relay-undone").exists()


def test_care_that_would_meet_a_third_village_refuses_the_calling_off_in_words(
    heron, agreed, ask, fennerlow, leilani, perpetua, now, today
):
    heron.care_days = 3
    heron.save()
    other = {"village": fennerlow, "borrower": leilani, "by": leilani}
    one = agreed(period=september(11, 13))
    two = agreed(**other, period=september(17, 18))
    three = agreed(period=september(22, 24))
    told = {"carried_by": "They", "meet_at": "There", "meet_time": time(9), "by": perpetua, "at": now, "today": today}
    for first, second, days in ((one, two, september(13, 14)), (two, three, september(14, 16))):
        first.refresh_from_db()
        relays.arrange_relay(
            first=first,
            second=second,
            period=days,
            **told,
            first_revision=first.revision,
            revision=second.revision,
        )
    two.refresh_from_db()

    with pytest.raises(CareInTheWay, match="Heron mill: with Sorrelhythe from Tue 14 Sep"):
        bookings.call_off(booking=two, reason="", by=leilani, at=now, revision=two.revision)

    assert Relay.objects.count() == 2
    assert rows(two) == booked(13)


def test_moving_the_second_away_undoes_the_relay(arrange, change, first, second):
    arrange()
    second.refresh_from_db()

    change(second, period=september(20, 22))

    assert not Relay.objects.exists()
    assert rows(first) == booked(11, 12) + care(13)
    assert rows(second) == booked(20, 21) + care(22)


def test_moving_the_first_is_refused_where_its_care_would_meet_the_second(arrange, change, first, second):
    arrange()
    first.refresh_from_db()

    with pytest.raises(MachineTaken, match="with Fennerlow"):
        change(first, period=september(11, 14))

    assert Relay.objects.count() == 1
    assert rows(first) == booked(11, 12)


def test_a_change_that_leaves_the_meeting_alone_keeps_the_relay(arrange, change, first, second):
    arrange()
    first.refresh_from_db()
    change(first, period=september(10, 13))
    second.refresh_from_db()
    change(second, period=september(13, 15))

    assert Relay.objects.count() == 1
    assert rows(first) == booked(10, 11, 12)
    assert rows(second) == booked(13, 14) + care(15)


def test_the_time_of_the_meeting_is_for_a_coordinator_to_change(arrange, change, first, second):
    arrange()
    second.refresh_from_db()

    with pytest.raises(MeetsInRelay) as refused:
        change(second, out_time=time(12))

    assert refused.value.field == "out_time"
    assert "Sorrelhythe hands on to Fennerlow on Mon 13 Sep at 08:30." in str(refused.value)


def test_the_taking_village_goes_out_by_the_relay_check_alone(arrange, second, leilani, now):
    arrange()

    with pytest.raises(GoesByRelay):
        bookings.mark_out(booking=second, by=leilani, at=now.replace(day=13))


def test_brought_to_the_depot_after_all_the_kit_goes_on_from_there(arrange, first, second, sunniva, leilani, now):
    bookings.mark_out(booking=first, by=sunniva, at=now.replace(day=11))
    arrange()

    bookings.mark_back(booking=first, by=sunniva, at=now.replace(day=13), today=date(2027, 9, 13))

    assert not Relay.objects.exists()
    assert Message.objects.filter(member_key=leilani.pk, key__startswith="booking-relay-undone").exists()
    assert rows(second) == booked(13, 14, 15) + care(16)


def test_the_borrowers_calendars_hear_of_the_relay_and_of_its_end(arrange, first, second, leilani, sunniva, now):
    arrange()
    second.refresh_from_db()
    told = [Message.objects.filter(member_key=who.pk).latest("pk").calendar for who in (sunniva, leilani)]
    bookings.call_off(booking=second, reason="", by=leilani, at=now, revision=second.revision)
    after = Message.objects.filter(member_key=sunniva.pk).latest("pk").calendar

    for text in told:
        assert "METHOD:REQUEST" in text
        assert "Sorrelhythe hands on to Fennerlow" in text.replace("\r\n ", "")
        assert "Barn by the standpipe" in text.replace("\r\n ", "")
    assert "METHOD:REQUEST" in after
    assert "hands on" not in after.replace("\r\n ", "")
