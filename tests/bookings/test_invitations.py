"""What the borrower's calendar is told about a booking: asked in words that any calendar program follows."""

import html
import re
from datetime import timedelta
from decimal import Decimal
from email import message_from_bytes, policy

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitshare.bookings import actions as bookings
from kitshare.bookings import feeds
from kitshare.outbox import actions as outbox
from kitshare.outbox.channels.mail import as_mail
from kitshare.outbox.models import Channel, Message
from tests.bookings.conftest import september
from tests.outbox.post_office import open_office
from tests.readers import by_vobject, check_bytes, property_lines, spans

pytestmark = pytest.mark.django_db


def letters_to(member) -> list[Message]:
    return list(Message.objects.filter(member_key=member.pk).order_by("pk"))


def said(message: Message, name: str) -> str:
    [line] = property_lines(message.calendar.encode(), name)
    return line


def story(messages: list[Message]) -> list[tuple[str, int, str]]:
    """Method, sequence and standing of each message in turn."""
    told = [message for message in messages if message.calendar]
    return [(said(one, "METHOD")[7:], int(said(one, "SEQUENCE")[9:]), said(one, "STATUS")[7:]) for one in told]


# Which message says what


def test_an_agreed_booking_asks_the_borrower_s_calendar_to_take_it(agreed, sunniva, settings, now):
    """RFC 5546, 3.2.2: ORGANIZER, ATTENDEE, DTSTAMP, DTSTART, SEQUENCE, SUMMARY and UID."""
    settings.DEFAULT_FROM_EMAIL = "Pressing Share <kit@example.org>"

    booking = agreed()

    [message] = letters_to(sunniva)
    assert story([message]) == [("REQUEST", 1, "CONFIRMED")]
    assert said(message, "UID") == f"UID:{booking.uid}@kitshare"
    assert said(message, "DTSTAMP") == "DTSTAMP:20270901T093000Z"
    assert said(message, "DTSTART") == "DTSTART;VALUE=DATE:20270911"
    assert said(message, "DTEND") == "DTEND;VALUE=DATE:20270913"
    assert said(message, "ORGANIZER") == 'ORGANIZER;CN="Linnow Vale Pressing Share":mailto:kit@example.org'
    attendee = said(message, "ATTENDEE")
    assert attendee.endswith(":mailto:sunniva@example.org")
    assert {'CN="Sunniva Okparadine"', "RSVP=FALSE", "PARTSTAT=NEEDS-ACTION"} <= set(
        attendee.rpartition(":mailto")[0].split(";")
    )


def test_it_moves_and_ends_under_one_uid_with_a_rising_sequence(agreed, change, perpetua, sunniva, now):
    booking = change(agreed(), period=september(18, 20), at=now + timedelta(hours=1))
    bookings.call_off(
        booking=booking, reason="Flood.", by=perpetua, at=now + timedelta(hours=2), revision=booking.revision
    )

    messages = letters_to(sunniva)
    assert story(messages) == [("REQUEST", 1, "CONFIRMED"), ("REQUEST", 2, "CONFIRMED"), ("CANCEL", 3, "CANCELLED")]
    assert len({said(message, "UID") for message in messages}) == 1
    assert [said(message, "DTSTAMP")[-7:] for message in messages] == ["093000Z", "103000Z", "113000Z"]
    assert said(messages[1], "DTSTART").endswith("20270918")
    assert {message.thread for message in messages} == {f"booking:{booking.pk}"}


def test_other_fruit_says_the_same_days_again_with_a_later_stamp(agreed, change, sunniva, now):
    change(agreed(), fruit_amount=Decimal(30), at=now + timedelta(hours=1))

    first, second = letters_to(sunniva)
    assert story([first, second]) == [("REQUEST", 1, "CONFIRMED")] * 2
    assert said(second, "DTSTAMP") > said(first, "DTSTAMP")


def test_what_borrowers_do_themselves_reaches_their_calendar_too(agreed, change, perpetua, sunniva, now, today):
    """The calendar follows them: tentative while it waits, taken once it is agreed, struck when it is called off."""
    moved = change(agreed(), period=september(18, 20), by=sunniva)
    again = bookings.agree(booking=moved, by=perpetua, at=now, today=today, revision=moved.revision)
    bookings.call_off(booking=again, reason="Hail.", by=sunniva, at=now, revision=again.revision)

    assert story(letters_to(sunniva)) == [
        ("REQUEST", 1, "CONFIRMED"),
        ("REQUEST", 2, "TENTATIVE"),
        ("REQUEST", 3, "CONFIRMED"),
        ("CANCEL", 4, "CANCELLED"),
    ]


def test_borrowers_are_not_written_to_about_what_their_calendar_knows(agreed, change, sunniva):
    change(agreed(), fruit_amount=Decimal(30), by=sunniva)

    assert len(letters_to(sunniva)) == 1


def test_a_booking_moved_by_its_borrower_and_then_declined_is_struck(agreed, change, perpetua, sunniva, now):
    moved = change(agreed(), period=september(18, 20), by=sunniva)

    bookings.decline(booking=moved, reason="The lane is closed.", by=perpetua, at=now, revision=moved.revision)

    assert story(letters_to(sunniva))[-1] == ("CANCEL", 3, "CANCELLED")


def test_a_booking_that_no_calendar_heard_of_is_called_off_in_words_alone(ask, perpetua, sunniva, now):
    booking = ask()

    bookings.call_off(booking=booking, reason="Flood.", by=perpetua, at=now, revision=booking.revision)

    assert [message.calendar for message in letters_to(sunniva)] == [""]


def test_a_coordinator_who_signs_for_a_village_and_agrees_it_is_asked_too(ask, sunniva, now, today):
    sunniva.coordinates = True
    sunniva.save()
    booking = ask()

    bookings.agree(booking=booking, by=sunniva, at=now, today=today, revision=booking.revision)

    assert story(letters_to(sunniva)) == [("REQUEST", 1, "CONFIRMED")]


def test_only_the_borrower_s_message_has_a_calendar(agreed, perpetua, sunniva, now):
    booking = agreed()
    bookings.call_off(booking=booking, reason="Hail.", by=sunniva, at=now, revision=booking.revision)

    assert [message.calendar for message in letters_to(perpetua)] == ["", ""]
    assert [message.html for message in letters_to(perpetua)] == ["", ""]


def test_a_borrower_without_an_address_is_telephoned_as_ever(ask, perpetua, sunniva, now, today):
    sunniva.email = None
    sunniva.save()
    booking = ask()

    booking = bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)
    bookings.call_off(booking=booking, reason="", by=sunniva, at=now, revision=booking.revision)

    [message] = letters_to(sunniva)
    assert (message.channel, message.calendar, message.html) == (Channel.TELEPHONE, "", "")
    assert "attached" not in message.body


# Its text


@pytest.fixture
def told(agreed, change, perpetua, sunniva, now) -> list[Message]:
    """The four kinds of message: agreed, moved, waiting again, called off."""
    booking = change(agreed(), period=september(18, 20))
    booking = change(booking, period=september(25, 27), by=sunniva)
    bookings.call_off(booking=booking, reason="Flood.", by=perpetua, at=now, revision=booking.revision)
    return letters_to(sunniva)


def test_three_readers_find_the_same_in_every_message(told, by_node):
    texts = [message.calendar.encode() for message in told]

    found = by_node(texts) | {"vobject": [by_vobject(text) for text in texts]}

    assert found["vobject"] == found["ical.js"] == found["node-ical"]
    read = [event for [event] in found["vobject"]]
    assert [(event.start, event.end, event.status, event.sequence) for event in read] == [
        ("2027-09-11", "2027-09-13", "CONFIRMED", 1),
        ("2027-09-18", "2027-09-20", "CONFIRMED", 2),
        ("2027-09-25", "2027-09-27", "TENTATIVE", 3),
        ("2027-09-25", "2027-09-27", "CANCELLED", 4),
    ]


def test_libical_finds_nothing_against_rfc_5546(told, libical):
    for message in told:
        assert libical.complaints(message.calendar.encode()) == []
        unfolded = message.calendar.replace("\r\n ", "")
        without = re.sub("ORGANIZER.*\r\n", "", unfolded)
        assert libical.complaints(unfolded.encode()) == []
        assert libical.complaints(without.encode()) != []


def test_it_is_right_by_the_byte_and_says_the_same_as_the_feed(told, scheme, agreed, mill, press, sunniva, now):
    booking = agreed(machines=[press, mill])
    message = letters_to(sunniva)[-1]
    feed = feeds.of_the_scheme(scheme)
    holding = feeds.look(feed, source="https://kit.example.org/a.ics", at=now)

    text = b"".join(feeds.pieces(feed, holding, source="https://kit.example.org/a.ics", at=now))

    check_bytes(message.calendar.encode())
    own = [event for event in spans(by_vobject(text)) if event.uid.startswith(str(booking.uid))]
    assert by_vobject(message.calendar.encode()) == own


def test_a_hostile_name_forges_nothing(agreed, sunniva, libical):
    sunniva.name = 'Sunniva "the; mill":\r\nATTENDEE:mailto:all@example.org, ^n'
    sunniva.email = "o'k+pressing@example.org"
    sunniva.save()

    agreed()

    [message] = letters_to(sunniva)
    check_bytes(message.calendar.encode())
    assert libical.complaints(message.calendar.encode()) == []
    attendee = said(message, "ATTENDEE")
    assert attendee.endswith(":mailto:o'k+pressing@example.org")
    assert 'CN="Sunniva the; mill: ATTENDEE:mailto:all@example.org, n"' in attendee


def html_of(message) -> str:
    """The HTML part of the letter as it goes out."""
    return next(str(body) for body, kind in as_mail(message).alternatives if kind == "text/html")


def test_the_text_part_and_the_html_part_say_the_same(told):
    for message in told:
        shown = re.sub(r"<head>.*?</head>", "", html_of(message), flags=re.DOTALL)
        words = html.unescape(re.sub(r"<[^>]+>", " ", shown)).split()
        assert words == message.body.split()


def test_the_html_fetches_nothing_and_runs_nothing(told):
    for message in told:
        tags = set(re.findall(r"<(\w+)", html_of(message)))
        assert tags <= {"html", "head", "meta", "title", "body", "div", "p", "a", "br"}
        assert not re.search(r"src=|url\(|<style|onclick|@import", html_of(message))


def test_a_script_in_a_reason_is_shown_as_text(agreed, perpetua, sunniva, now):
    booking = agreed()

    bookings.call_off(
        booking=booking, reason="<script>alert(1)</script>", by=perpetua, at=now, revision=booking.revision
    )

    message = letters_to(sunniva)[-1]
    assert "<script>" not in html_of(message)
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html_of(message)
    assert "<script>alert(1)</script>" in message.body


# On its way


class Office:
    """Keeps whole letters as they arrive over SMTP."""

    def __init__(self) -> None:
        self.letters: list[bytes] = []

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        self.letters.append(envelope.content)
        return "250 OK"


@pytest.fixture
def office(settings):
    kept = Office()
    open_now = open_office(kept)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", open_now.port
    settings.EMAIL_ADDRESS = f"smtp://127.0.0.1:{open_now.port}"
    settings.DEFAULT_FROM_EMAIL = "Pressing Share <kit@example.org>"
    yield kept
    open_now.stop()


def parts_of(letter: bytes) -> list[tuple[str, bytes]]:
    """Content type and decoded bytes of each part, in order."""
    mail = message_from_bytes(letter, policy=policy.default)
    return [(part.get_content_type(), part.get_payload(decode=True) or b"") for part in mail.walk()]


def test_a_mail_server_gets_text_html_and_calendar_last_and_the_file_as_well(office, told, sunniva, now):
    """RFC 2046, 5.1.4: the richest form last. RFC 6047, 2.4: the type names the method."""
    outbox.deliver_due(at=now)

    mails = [message_from_bytes(letter, policy=policy.default) for letter in office.letters]
    own = [mail for mail in mails if "sunniva" in mail["To"]]
    assert len(own) == len(told) == 4
    for mail, message in zip(own, told, strict=True):
        assert [part.get_content_type() for part in mail.walk()] == [
            "multipart/mixed",
            "multipart/alternative",
            "text/plain",
            "text/html",
            "text/calendar",
            "application/ics",
        ]
        *_before, calendar, attached = mail.walk()
        assert calendar["Content-Type"].params["method"] == said(message, "METHOD").partition(":")[2]
        assert calendar["Content-Type"].params["charset"] == "utf-8"
        assert calendar.get_payload(decode=True) == message.calendar.encode()
        assert attached.get_filename() == "booking.ics"
        assert attached.get_payload(decode=True) == message.calendar.encode()
    assert len({mail["References"] for mail in own}) == 1
    assert len({mail["Message-ID"] for mail in own}) == 4


def test_sent_again_it_is_the_same_by_the_byte(office, agreed, change, now):
    agreed()
    outbox.deliver_due(at=now)
    Message.objects.update(sent_at=None)

    outbox.deliver_due(at=now + timedelta(days=2))

    half = len(office.letters) // 2
    assert half >= 2
    assert [parts_of(one) for one in office.letters[:half]] == [parts_of(one) for one in office.letters[half:]]


def test_accents_reach_the_calendar_part_whole(office, agreed, sorrelhythe, sunniva, now):
    sorrelhythe.name = "Tŷ-Ferrow 🍎"
    sorrelhythe.save()
    agreed()

    outbox.deliver_due(at=now)

    [calendar] = [body for letter in office.letters for kind, body in parts_of(letter) if kind == "text/calendar"]
    assert "SUMMARY:Tŷ-Ferrow 🍎: Heron".encode() in calendar
    check_bytes(calendar)


def test_a_message_without_a_calendar_goes_as_text_and_html(office, ask, perpetua, now):
    ask()

    outbox.deliver_due(at=now)

    [letter] = office.letters
    assert [kind for kind, _body in parts_of(letter)] == ["multipart/alternative", "text/plain", "text/html"]


def test_telling_takes_the_same_queries_however_many_machines(ask, perpetua, mill, press, pasteuriser, now, today):
    with_one = ask(machines=[mill])
    with_three = ask(machines=[mill, press, pasteuriser], period=september(25, 27))
    counts = []
    for booking in (with_one, with_three):
        with CaptureQueriesContext(connection) as counted:
            bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)
        counts.append(len(counted))

    assert counts[0] == counts[1]
