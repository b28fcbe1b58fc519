from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.core import mail

from kitshare.bookings import actions as bookings
from kitshare.outbox.models import Channel, Message
from kitshare.people.models import Member
from kitshare.reminders import actions as reminders
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from tests.reminders.conftest import on


def told(word: str) -> list[tuple[str, str]]:
    """Who was told, and under which subject, by the first word of the key."""
    return list(Message.objects.filter(key__startswith=word).order_by("pk").values_list("to_name", "subject"))


# The day before a pickup


def test_the_borrower_is_reminded_once_on_the_day_before_the_pickup(agreed):
    early = reminders.write_due_reminders(at=on(9, 23, 59))
    first = reminders.write_due_reminders(at=on(10, 7))
    again = reminders.write_due_reminders(at=on(10, 7, 1))

    assert (early, first, again) == (0, 1, 0)
    assert told("pickup-tomorrow") == [("Sunniva Okparadine", "Pickup on Sat 11 Sep, Sorrelhythe")]


def test_nobody_is_woken_by_a_reminder(agreed):
    assert reminders.write_due_reminders(at=on(10, 6, 59)) == 0


def test_the_letter_says_when_where_what_to_bring_and_whom_to_ring(agreed, depot, settings):
    settings.SITE_ADDRESS = "https://kit.example.org"
    depot.directions = "Down the lane behind the chapel, green gate."
    depot.save()

    reminders.write_due_reminders(at=on(10))

    body = Message.objects.get(key__startswith="pickup-tomorrow").body
    for words in (
        "Hello Sunniva Okparadine,",
        "goes out on Sat 11 Sep",
        " at 10:00.",
        "Old Goods Shed, Withyhurn\nDown the lane behind the chapel, green gate.",
        "Kit: Heron (Heron mill)",
        "nobody lifts a machine alone",
        "due back on Mon 13 Sep",
        " by 09:00.",
        f"https://kit.example.org/bookings/{agreed.pk}/",
        "01632 960 123",
    ):
        assert words in body


def test_names_reach_a_letter_as_they_are_written(agreed, sorrelhythe, mill):
    sorrelhythe.name = "St Wenno's Cross & <Tŷ-Ferrow>"
    sorrelhythe.save()

    reminders.write_due_reminders(at=on(10))

    message = Message.objects.get(key__startswith="pickup-tomorrow")
    assert message.subject == "Pickup on Sat 11 Sep, St Wenno's Cross & <Tŷ-Ferrow>"
    assert "The kit for St Wenno's Cross & <Tŷ-Ferrow> goes out" in message.body


@pytest.mark.parametrize(
    ("zone", "at", "count"),
    [
        ("UTC", datetime(2027, 9, 9, 19, 30, tzinfo=UTC), 0),
        ("Pacific/Auckland", datetime(2027, 9, 9, 19, 30, tzinfo=UTC), 1),  # 07:30 on the 10th there
        ("Pacific/Honolulu", datetime(2027, 9, 10, 9, 0, tzinfo=UTC), 0),  # 23:00 on the 9th there
        ("Pacific/Honolulu", datetime(2027, 9, 10, 17, 0, tzinfo=UTC), 1),  # 07:00 on the 10th there
    ],
)
def test_the_schemes_own_time_zone_decides_what_tomorrow_is(agreed, scheme, zone, at, count):
    scheme.time_zone = zone
    scheme.save()

    assert reminders.write_due_reminders(at=at) == count


def test_a_round_that_did_not_run_is_made_up_for_on_the_day_itself(agreed):
    assert reminders.write_due_reminders(at=on(11, 8)) == 1
    assert "tomorrow" not in Message.objects.get(key__startswith="pickup-tomorrow").body


def test_what_was_not_agreed_is_not_reminded_of(asked):
    assert reminders.write_due_reminders(at=on(10)) == 0


def test_a_booking_called_off_is_not_reminded_of(agreed, perpetua, now):
    bookings.call_off(booking=agreed, reason="No fruit.", by=perpetua, at=now, revision=agreed.revision)

    assert reminders.write_due_reminders(at=on(10)) == 0


def test_the_reminder_says_so_while_a_machine_is_set_aside(agreed, mill, stop):
    stop(mill)

    reminders.write_due_reminders(at=on(10))

    assert "Set aside at the moment: Heron mill." in Message.objects.get(key__startswith="pickup-tomorrow").body


# Coming back


def test_the_borrower_is_reminded_on_the_morning_of_the_return(out):
    night, morning = reminders.write_due_reminders(at=on(13, 6)), reminders.write_due_reminders(at=on(13, 7))

    assert (night, morning) == (0, 1)
    assert told("return-due") == [("Sunniva Okparadine", "Return due on Mon 13 Sep, Sorrelhythe")]


def test_an_overdue_return_is_asked_after_on_three_days_and_no_more(out):
    written = [reminders.write_due_reminders(at=on(day)) for day in range(13, 20)]

    assert written == [1, 2, 2, 2, 0, 0, 0]
    assert {name for name, _subject in told("return-overdue")} == {"Sunniva Okparadine", "Perpetua Quillstone"}


def test_a_loop_that_stood_still_for_a_week_still_asks_once(out):
    assert [reminders.write_due_reminders(at=on(day)) for day in (20, 21)] == [2, 0]


def test_what_is_back_is_not_asked_after(out, sunniva):
    bookings.mark_back(booking=out, by=sunniva, at=on(13), today=on(13).date())

    assert reminders.write_due_reminders(at=on(14)) == 0


def test_a_coordinator_who_borrows_hears_of_it_once(out, sunniva):
    Member.objects.filter(pk=sunniva.pk).update(coordinates=True)

    reminders.write_due_reminders(at=on(14))

    assert [name for name, _subject in told("return-overdue")].count("Sunniva Okparadine") == 1


# Bookings at risk


def test_the_borrower_and_the_coordinator_hear_at_once_that_a_booking_is_at_risk(agreed, mill, stop, now):
    stop(mill)

    first = reminders.write_due_reminders(at=on(1, 3))
    again = reminders.write_due_reminders(at=on(2))

    assert (first, again) == (2, 0)
    subject = "At risk: Sorrelhythe, Sat 11 Sep: Heron mill is set aside"
    assert told("booking-at-risk") == [("Sunniva Okparadine", subject), ("Perpetua Quillstone", subject)]
    assert "The drive pin is bent." in Message.objects.filter(key__startswith="booking-at-risk").first().body


def test_those_who_were_warned_hear_when_nothing_stops_the_booking_any_longer(agreed, mill, stop, release):
    fault = stop(mill)
    reminders.write_due_reminders(at=on(1))
    release(fault)

    first, again = reminders.write_due_reminders(at=on(2)), reminders.write_due_reminders(at=on(3))

    assert (first, again) == (2, 0)
    assert told("fit-again")[0] == ("Sunniva Okparadine", "No longer at risk: Sorrelhythe, Sat 11 Sep")


def test_no_all_clear_while_a_second_fault_stops_the_booking(agreed, mill, stop, release):
    first, second = stop(mill), stop(mill, "The lead is cut.")
    reminders.write_due_reminders(at=on(1))
    release(first)
    assert reminders.write_due_reminders(at=on(2)) == 0

    release(second)
    assert reminders.write_due_reminders(at=on(3)) == 2


def test_a_fault_graded_down_and_up_again_is_told_again(agreed, mill, stop, grade):
    fault = stop(mill)
    written = [reminders.write_due_reminders(at=on(1))]
    for day, severity in ((2, Severity.USE_WITH_CARE), (3, Severity.STOPS_USE), (4, Severity.LOOKS_ONLY)):
        grade(fault, severity)
        written.append(reminders.write_due_reminders(at=on(day)))

    assert written == [2, 2, 2, 2]


def test_a_fault_on_another_machine_puts_no_booking_at_risk(agreed, press, stop):
    stop(press)

    assert reminders.write_due_reminders(at=on(1)) == 0


def test_a_fault_that_does_not_stop_use_worries_nobody(agreed, mill, stop, grade):
    grade(stop(mill), Severity.USE_WITH_CARE)

    assert reminders.write_due_reminders(at=on(1)) == 0


def test_somebody_without_an_address_is_to_be_telephoned(agreed, sunniva):
    Member.objects.filter(pk=sunniva.pk).update(email=None)

    reminders.write_due_reminders(at=on(10))

    message = Message.objects.get(key__startswith="pickup-tomorrow")
    assert (message.channel, message.to_telephone) == (Channel.TELEPHONE, "01632 960 200")


# Rounds


@pytest.mark.django_db
def test_before_the_first_run_there_is_nobody_to_remind(now):
    assert reminders.tick(at=now) == reminders.Round(written=0, sent=0, failed=0)


def test_a_round_writes_and_sends(agreed):
    Message.objects.all().delete()

    assert reminders.tick(at=on(10)) == reminders.Round(written=1, sent=1, failed=0)
    assert mail.outbox[0].subject == "Pickup on Sat 11 Sep, Sorrelhythe"
    assert reminders.tick(at=on(10)) == reminders.Round(written=0, sent=0, failed=0)


def test_what_cannot_be_written_holds_up_nothing_that_can_be_sent(agreed, monkeypatch):
    def broken(**_words):
        raise LookupError("a letter that cannot be written")

    monkeypatch.setattr(reminders, "write_due_reminders", broken)
    with pytest.raises(LookupError):
        reminders.tick(at=on(10))

    assert not Message.objects.on_their_way().exists()


def test_a_round_that_has_nothing_to_do_costs_the_same_however_many_bookings(
    agreed, ask_for_more, django_assert_max_num_queries
):
    """At most fourteen: scheme, rows of the policy, bookings, machines, kits, depots, what was told, what stops them,
    what is tested first, what is late, open offers, services and tests that fall due, and what goes by use."""
    reminders.write_due_reminders(at=on(1))  # the first writes the usual rows down
    ask_for_more(4, first=on(2).date(), apart=7, nights=2)
    with django_assert_max_num_queries(14):
        assert reminders.write_due_reminders(at=on(1)) == 0


# A kit that is late, and who waits for it


@pytest.fixture
def next_village(out, fennerlow, leilani, perpetua, mill, now, today):
    """Fennerlow has the Heron mill from Thu 16 Sep, three days after Sorrelhythe was to bring it back."""

    def book(start: int):
        asked = bookings.book_kit(
            village=fennerlow,
            borrower=leilani,
            machines=[mill],
            period=Period(start=on(start).date(), end=on(start + 1).date()),
            fruit_amount=Decimal("100"),
            fruit_unit="kg",
            note="",
            by=leilani,
            at=now,
            today=today,
        )
        return bookings.agree(booking=asked, by=perpetua, at=now, today=today, revision=asked.revision)

    return book


def test_the_village_that_waits_for_a_late_kit_is_told_once_and_again_when_it_is_back(next_village, out, sunniva):
    next_village(17)

    reminders.tick(at=on(13, 12))
    due_today = told("late-before")
    for hour in (0, 1, 9, 10):
        reminders.tick(at=on(14, hour))
    warned = told("late-before")
    bookings.mark_back(booking=out, by=sunniva, at=on(14, 11), today=on(14).date())
    for hour in (11, 12):
        reminders.tick(at=on(14, hour))

    assert due_today == []
    assert warned == [("Leilani Crabbwater", "At risk: Fennerlow, Fri 17 Sep: the kit is not back")]
    assert told("late-before") == warned
    assert told("late-is-back") == [("Leilani Crabbwater", "No longer at risk: Fennerlow, Fri 17 Sep")]
    body = Message.objects.get(key__startswith="late-before").body
    assert "Heron mill: not back from Sorrelhythe, due on Mon 13 Sep" in body


def test_a_village_with_days_in_hand_is_not_alarmed(next_village):
    next_village(20)

    reminders.tick(at=on(14, 9))

    assert told("late-before") == []


# What nobody answered


def test_a_booking_that_nobody_answered_is_ended_when_its_days_are_over_and_both_sides_hear_it(asked):
    reminders.tick(at=on(12, 23))
    asked.refresh_from_db()
    still = asked.stage
    reminders.tick(at=on(13, 6))
    asked.refresh_from_db()
    at_night = asked.stage
    for hour in (7, 8):
        reminders.tick(at=on(13, hour))
    asked.refresh_from_db()

    assert (still, at_night, asked.stage) == ("asked", "asked", "declined")
    assert asked.reason == "Nobody answered before its days were over."
    assert not asked.days.exists()
    assert sorted(told("booking-lapsed")) == [
        ("Perpetua Quillstone", "Ended without an answer: Sorrelhythe from Sat 11 Sep"),
        ("Sunniva Okparadine", "Ended without an answer: Sorrelhythe from Sat 11 Sep"),
    ]


def test_an_agreed_booking_is_not_ended_by_the_clock(agreed):
    reminders.tick(at=on(20))

    agreed.refresh_from_db()
    assert agreed.stage == "agreed"
