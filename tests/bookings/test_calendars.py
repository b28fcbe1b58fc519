"""The text of a calendar: right by the byte, and read alike by readers that others wrote."""

import uuid
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from PIL import ImageColor

from kitshare.bookings import calendars, feeds
from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import KitShape, Machine
from tests.readers import Read, by_vobject, check_bytes, property_lines, spans

SIGNS = "é🍎ש\u202e,;\\\"':\n\r\t\x00\x07\x7f\x85\u2028n "
NAMES = [
    "St Wenno's Cross",
    "Tŷ-Ferrow",
    "a, b; c",
    "back\\slash \\\\ twice",
    "two\nlines\r\nand\rmore",
    "bell \x07, null \x00, delete \x7f, next line \x85, separators \u2028 \u2029 \x1c \x0b",
    "🍎🍐 " + "🧑‍🌾" * 30,
    "בית הבד \u202eright to left\u202c",
    "ŷ" * 80,
    "BEGIN:VEVENT",
    "x\nEND:VEVENT\nBEGIN:VEVENT\nUID:forged",
    "\"quoted\": 'and' ^caret^ =1+1",
    " ",
]


def booking_of(village: str, machine: str = "Heron mill", **facts) -> Booking:
    """A booking for the writer's eyes only: whatever a name holds, no database had to take it."""
    kit = SimpleNamespace(pk=1, name="Heron", shape=KitShape.SQUARE)
    machines = SimpleNamespace(all=lambda: [SimpleNamespace(name=machine, kit_id=1, kit=kit)])
    stands_for = {
        "pk": 7,
        "uid": uuid.uuid4(),
        "village": SimpleNamespace(name=village),
        "machines": machines,
        "stage": Stage.AGREED,
        "out_on": date(2027, 9, 11),
        "back_on": date(2027, 9, 13),
        "out_time": time(10),
        "back_time": time(9),
        "sequence": 1,
        "asked_at": datetime(2027, 9, 1, 9, tzinfo=UTC),
        "changed_at": datetime(2027, 9, 1, 9, tzinfo=UTC),
    }
    return SimpleNamespace(**(stands_for | facts))


def calendar_of(*bookings, name: str = "Heron") -> bytes:
    opening = calendars.opening(name=name, colour="teal", source="https://kit.example.org/a.ics")
    return (
        opening + b"".join(calendars.event(one, one.machines.all()).to_ical() for one in bookings) + calendars.CLOSING
    )


def expected(booking) -> Read:
    """What a reader should find: no more than the rules of the words themselves."""
    return Read(
        uid=f"{booking.uid}@kitshare",
        start=booking.out_on.isoformat(),
        end=booking.back_on.isoformat(),
        summary=calendars.one_line(f"{booking.village.name}: Heron"),
        description=f"Machines: {calendars.one_line(booking.machines.all()[0].name)}.\n"
        "Collect on Sat 11 Sep at 10:00, back on Mon 13 Sep at 09:00.",
        status="CANCELLED" if booking.stage == Stage.CALLED_OFF else "CONFIRMED",
        sequence=booking.sequence,
    )


# Readers that others wrote


def test_three_readers_find_the_same_in_every_event(by_node):
    stages = [Stage.AGREED, Stage.OUT, Stage.BACK, Stage.CLOSED, Stage.CALLED_OFF]
    held = [booking_of(name, stage=stages[count % 5], sequence=count) for count, name in enumerate(NAMES)]
    text = calendar_of(*held)

    by_reader = {name: found for name, [found] in by_node([text]).items()} | {"vobject": by_vobject(text)}

    wanted = sorted(expected(one) for one in held)
    assert by_reader["vobject"] == wanted
    assert by_reader["ical.js"] == wanted
    # node-ical takes an escaped backslash followed by an n for an end of line; none of these names has the pair.
    assert by_reader["node-ical"] == wanted


def handed_over_in_berlin() -> tuple[SimpleNamespace, bytes]:
    """A booking with its handovers. Clocks in Berlin went back in the night before 31 Oct 2027 (tz database)."""
    booking = booking_of("Tŷ-Ferrow", out_on=date(2027, 10, 30), back_on=date(2027, 10, 31))
    handed = calendars.handovers(booking, booking.machines.all(), zone=ZoneInfo("Europe/Berlin"))
    text = calendar_of(booking).removesuffix(calendars.CLOSING)
    return booking, text + b"".join(event.to_ical() for event in handed) + calendars.CLOSING


def test_three_readers_find_a_handover_at_the_same_moment(by_node):
    booking, text = handed_over_in_berlin()

    by_reader = {name: found for name, [found] in by_node([text]).items()} | {"vobject": by_vobject(text)}

    check_bytes(text)
    assert set(by_reader) == {"ical.js", "node-ical", "vobject"}
    for found in by_reader.values():
        moments = {event.uid: (event.start, event.end) for event in found if event not in spans(found)}
        assert moments == {
            f"{booking.uid}-out@kitshare": ("2027-10-30T08:00:00Z", "2027-10-30T08:30:00Z"),
            f"{booking.uid}-back@kitshare": ("2027-10-31T08:00:00Z", "2027-10-31T08:30:00Z"),
        }


def test_libical_finds_no_fault_with_a_handover(libical):
    _booking, text = handed_over_in_berlin()

    assert libical.complaints(text) == []


def test_libical_finds_nothing_to_complain_of(libical):
    text = calendar_of(*[booking_of(name) for name in NAMES])

    assert libical.complaints(text) == []


def test_libical_would_complain(libical):
    """So that the test above can fail: a message that asks somebody to come must say who asks (RFC 5546, 3.2.2)."""
    text = calendar_of(booking_of("Sorrelhythe")).replace(b"VERSION:2.0\r\n", b"VERSION:2.0\r\nMETHOD:REQUEST\r\n", 1)

    assert libical.complaints(text)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=120) | st.text(alphabet=SIGNS, max_size=60), st.text(alphabet=SIGNS, max_size=60))
@example("x\nEND:VEVENT", "\\n\\N\\;\\,")
@example("\ufeff", "\ufeffHeron")
def test_whatever_a_name_holds_comes_back_as_a_person_would_read_it(village, machine):
    booking = booking_of(village, machine)
    text = calendar_of(booking, name=village)

    check_bytes(text)
    assert by_vobject(text) == [expected(booking)]
    [name] = property_lines(text, "X-WR-CALNAME")
    assert not set(name) & set(",;\\")


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text())
@example("half a pair \ud800, and a bell \x07")
def test_a_title_is_one_line_of_printable_text_and_stays_so(text):
    title = calendars.one_line(text)

    assert title.splitlines() in ([], [title])
    assert calendars.one_line(title) == title
    assert not any(ord(sign) < 32 or 127 <= ord(sign) < 160 or 0xD800 <= ord(sign) < 0xE000 for sign in title)


def test_ordinary_text_is_left_alone():
    assert calendars.one_line("Tŷ-Ferrow: Heron, Otter 🍎") == "Tŷ-Ferrow: Heron, Otter 🍎"
    assert calendars.plain("one\r\ntwo\u2028three\tfour") == "one\ntwo\nthree\tfour"


# By the byte


def test_lines_end_in_crlf_fold_by_octets_and_escape_what_must_be():
    """RFC 5545 sections 3.1 and 3.3.11, on the bytes themselves: readers forgive what this does not."""
    text = calendar_of(booking_of("Tŷ, the; \\ long-winded \nvillage " + "ŷ" * 40))

    check_bytes(text)
    [summary] = property_lines(text, "SUMMARY")
    assert summary == "SUMMARY:Tŷ\\, the\\; \\\\ long-winded village " + "ŷ" * 40 + ": Heron"
    [description] = property_lines(text, "DESCRIPTION")
    assert (
        description
        == "DESCRIPTION:Machines: Heron mill.\\nCollect on Sat 11 Sep at 10:00\\, back on Mon 13 Sep at 09:00."
    )
    assert property_lines(text, "DTSTART") == ["DTSTART;VALUE=DATE:20270911"]
    assert property_lines(text, "DTEND") == ["DTEND;VALUE=DATE:20270913"]


def test_moments_are_written_in_utc_whatever_zone_they_came_in():
    text = calendar_of(booking_of("A", changed_at=datetime.fromisoformat("2027-09-01T12:00:00+02:00")))

    assert property_lines(text, "DTSTAMP") == ["DTSTAMP:20270901T100000Z"]


@pytest.mark.parametrize(
    ("facts", "error"),
    [
        ({"out_on": datetime(2027, 9, 11, 8, tzinfo=UTC)}, TypeError),
        ({"back_on": date(2027, 9, 11)}, ValueError),
        ({"changed_at": datetime(2027, 9, 1, 9)}, ValueError),  # noqa: DTZ001
    ],
)
def test_what_the_package_would_let_through_is_refused(facts, error):
    with pytest.raises(error):
        calendar_of(booking_of("Sorrelhythe", **facts))


def test_a_colour_by_number_is_refused():
    with pytest.raises(ValueError, match="CSS name"):
        calendars.opening(name="Heron", colour="#1E7A66", source="https://kit.example.org/a.ics")


def test_every_colour_is_one_of_css():
    """RFC 7986, 5.9: a name of CSS Color Level 3, as Pillow's table has them."""
    used = {calendars.SCHEME_COLOUR, *calendars.KIT_COLOURS.values()}

    assert used <= set(ImageColor.colormap)
    assert set(calendars.KIT_COLOURS) == set(KitShape.values)


@pytest.mark.django_db
def test_an_event_of_two_kits_has_no_colour_and_names_both(season, sorrelhythe, sunniva, mill, otter_mill, now):
    booking = Booking(
        village=sorrelhythe,
        borrower=sunniva,
        stage=Stage.AGREED,
        out_on=date(2027, 9, 11),
        back_on=date(2027, 9, 12),
        fruit_amount=Decimal(1),
        fruit_kg=Decimal(1),
        asked_at=now,
        changed_at=now,
    )
    booking.save()
    booking.machines.set(Machine.objects.all())

    [found] = Booking.objects.with_people()
    text = calendar_of(found)

    assert property_lines(text, "SUMMARY") == ["SUMMARY:Sorrelhythe: Heron\\, Otter"]
    assert property_lines(text, "COLOR") == ["COLOR:teal"]  # the calendar's own


@pytest.mark.django_db
def test_a_change_noted_late_never_goes_back_in_time(scheme, now):
    feed = feeds.of_the_scheme(scheme)
    first, second = (feeds.Holding(keys=[], fingerprint=print_) for print_ in ("a" * 64, "b" * 64))

    times = [
        feeds.held_since(feed.owner, first, at=now + timedelta(hours=1)),
        feeds.held_since(feed.owner, second, at=now),
        feeds.held_since(feed.owner, first, at=now),
        feeds.held_since(feed.owner, first, at=now + timedelta(days=1)),
    ]

    hour = now + timedelta(hours=1)
    assert times == [hour, hour + timedelta(seconds=1), hour + timedelta(seconds=2), hour + timedelta(seconds=2)]
