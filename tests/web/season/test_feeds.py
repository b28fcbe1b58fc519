"""The calendar feeds: clean by RFC 5545, read by an independent reader, and the same bytes for the same bookings."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import vobject
from django.urls import reverse

from kitshare.bookings import actions as bookings
from kitshare.bookings.calendars import CANCELLED_SHOWN_FOR
from kitshare.people import actions as people
from kitshare.rules.periods import Period

pytestmark = pytest.mark.django_db


@pytest.fixture
def booking(season, sorrelhythe, sunniva, mill, press, now, today):
    return bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill, press],
        period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
        fruit_amount=Decimal(300),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )


@pytest.fixture
def agreed(booking, perpetua, now, today):
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)


@pytest.fixture
def clock(monkeypatch, now):
    """The moment at which feeds are fetched; tests move it."""

    class Clock:
        at = now + timedelta(hours=1)

    monkeypatch.setattr("kitshare.web.season.feeds.timezone.now", lambda: Clock.at)
    return Clock


def events(answer) -> list:
    """The events, as vobject 0.9 reads them."""
    return list(getattr(vobject.readOne(answer.content.decode()), "vevent_list", []))


def fetch(client, scheme, **headers):
    return client.get(reverse("season:feed_scheme", args=[scheme.feed_token]), headers=headers)


def test_an_agreed_booking_is_an_event_of_whole_days_with_an_exclusive_end(client, scheme, agreed, clock):
    [event] = events(fetch(client, scheme))

    assert event.dtstart.value == date(2027, 9, 11)
    assert event.dtend.value == date(2027, 9, 13)
    assert event.summary.value == "Sorrelhythe: Heron"
    assert event.uid.value == f"{agreed.uid}@kitshare"
    assert event.dtstamp.value == datetime(2027, 9, 1, 9, 30, tzinfo=UTC)
    assert event.status.value == "CONFIRMED"


def test_an_asked_booking_is_in_no_feed(client, scheme, booking, clock):
    assert events(fetch(client, scheme)) == []


def test_the_uid_stays_and_the_sequence_rises_when_the_days_change(
    client, scheme, agreed, perpetua, now, today, mill, press, clock
):
    [before] = events(fetch(client, scheme))

    bookings.change_booking(
        booking=agreed,
        machines=[mill, press],
        period=agreed.period.shifted(7),
        fruit_amount=agreed.fruit_amount,
        fruit_unit=agreed.fruit_unit,
        note="",
        by=perpetua,
        at=now + timedelta(minutes=5),
        today=today,
        revision=agreed.revision,
    )
    [after] = events(fetch(client, scheme))

    assert after.uid.value == before.uid.value
    assert int(after.sequence.value) > int(before.sequence.value)
    assert after.dtstart.value == date(2027, 9, 18)


def test_a_called_off_booking_is_marked_cancelled_for_fourteen_days(client, scheme, agreed, perpetua, now, clock):
    bookings.call_off(booking=agreed, reason="Flood.", by=perpetua, at=now, revision=agreed.revision)

    [event] = events(fetch(client, scheme))
    clock.at = now + CANCELLED_SHOWN_FOR + timedelta(seconds=1)

    assert event.status.value == "CANCELLED"
    assert events(fetch(client, scheme)) == []


def test_a_village_feed_holds_only_its_own(client, agreed, sorrelhythe, fennerlow, clock):
    own = client.get(reverse("season:feed_village", args=[sorrelhythe.feed_token]))
    other = client.get(reverse("season:feed_village", args=[fennerlow.feed_token]))

    assert len(events(own)) == 1
    assert events(other) == []


def test_a_renewed_token_closes_the_old_address(client, scheme, agreed, perpetua, now, clock):
    old = scheme.feed_token

    people.renew_feed_token(of=scheme, by=perpetua, at=now)

    assert client.get(reverse("season:feed_scheme", args=[old])).status_code == 404
    assert fetch(client, scheme).status_code == 200


def test_the_same_bookings_give_the_same_bytes_and_a_304(client, scheme, agreed, clock):
    first = fetch(client, scheme)
    second = fetch(client, scheme)
    third = fetch(client, scheme, if_none_match=first["ETag"])

    assert second.content == first.content
    assert third.status_code == 304
    assert first["Cache-Control"].startswith("private")


def test_lines_end_in_crlf_fold_by_octets_and_escape_what_must_be(client, scheme, agreed, sorrelhythe, clock):
    """RFC 5545 sections 3.1 and 3.3.11, on the bytes themselves: readers forgive what this does not."""
    sorrelhythe.name = "Tŷ, the; \\ long-winded \nvillage " + "ŷ" * 40
    sorrelhythe.save()

    body = fetch(client, scheme).content

    lines = body.split(b"\r\n")
    assert body.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in body.replace(b"\r\n", b"")
    assert max(len(line) for line in lines) <= 75
    unfolded = body.replace(b"\r\n ", b"").decode()
    assert "SUMMARY:Tŷ\\, the\\; \\\\ long-winded \\nvillage " in unfolded
    assert b"DTSTART;VALUE=DATE:20270911" in body
    assert len([line for line in lines if line.startswith(b"UID:")]) == 1


def test_a_feed_holds_no_telephone_number(client, scheme, agreed, clock):
    assert scheme.telephone.replace(" ", "") not in fetch(client, scheme).content.decode().replace(" ", "")


def test_a_feed_of_nothing_is_still_a_calendar(client, scheme, clock):
    answer = fetch(client, scheme)

    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert events(answer) == []


@pytest.mark.parametrize("many", [1, 12])
def test_a_feed_takes_the_same_queries_however_many_bookings(
    many, client, scheme, season, sorrelhythe, sunniva, mill, perpetua, now, today, clock, django_assert_num_queries
):
    for number in range(many):
        start = date(2027, 9, 4) + timedelta(days=4 * number)
        made = bookings.book_kit(
            village=sorrelhythe,
            borrower=sunniva,
            machines=[mill],
            period=Period(start=start, end=start + timedelta(days=1)),
            fruit_amount=Decimal(100),
            fruit_unit="kg",
            note="",
            by=sunniva,
            at=now,
            today=today,
        )
        bookings.agree(booking=made, by=perpetua, at=now, today=today, revision=made.revision)

    with django_assert_num_queries(5):
        fetch(client, scheme)
