"""Calendar files as other programs write them, and as nobody should: what is refused is refused with its line."""

import contextlib
import datetime
import time
import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.bringing.reading import read
from kitshare.bringing.rows import MOST_BYTES, MOST_ROWS, FileRefused
from tests.bringing.conftest import UTC, diary
from tests.readers import by_vobject

LISBON = "Europe/Lisbon"


def only(*lines: str, zone=UTC):
    [row] = read(diary("\n".join(lines)), zone=zone).rows
    return row


def days(row) -> tuple[str, str]:
    assert row.problems == ()
    return (f"{row.out_on:%d %b}", f"{row.back_on:%d %b}")


# What is understood


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (["DTSTART;VALUE=DATE:20270911", "DTEND;VALUE=DATE:20270913"], ("11 Sep", "13 Sep")),
        (["DTSTART:20270911", "DTEND:20270913"], ("11 Sep", "13 Sep")),
        (["DTSTART;VALUE=DATE:20270911"], ("11 Sep", "12 Sep")),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:P2D"], ("11 Sep", "13 Sep")),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:P1W"], ("11 Sep", "18 Sep")),
        (["DTSTART:20270911T090000Z", "DTEND:20270913T090000Z"], ("11 Sep", "13 Sep")),
        (["DTSTART:20270911T090000Z", "DTEND:20270912T180000Z"], ("11 Sep", "13 Sep")),
        (["DTSTART:20270911T090000Z", "DURATION:PT10H"], ("11 Sep", "12 Sep")),
        (["DTSTART:20270911T090000Z"], ("11 Sep", "12 Sep")),
        ([f"DTSTART;TZID={LISBON}:20270911T003000", f"DTEND;TZID={LISBON}:20270912T130000"], ("10 Sep", "12 Sep")),
        ([f'DTSTART;TZID="{LISBON}":20270911T090000', "DTEND:20270912T110000Z"], ("11 Sep", "12 Sep")),
        (["DTSTART:20270911T235960Z", "DTEND:20270912T110000Z"], ("11 Sep", "12 Sep")),
    ],
)
def test_days_and_moments_become_a_morning_out_and_a_morning_back(lines, found):
    assert days(only(*lines)) == found


def test_what_was_made_of_an_hour_is_said():
    row = only("DTSTART:20270911T090000Z", "DTEND:20270912T180000Z")

    assert row.remarks == ("It ends on Sun 12 Sep 18:00: taken as back by the morning of Mon 13 Sep.",)


def test_the_words_of_an_entry_are_kept_to_look_for_names_in():
    row = only(
        "UID:abc",
        "SUMMARY:Sorrelhythe\\, Heron",
        "DESCRIPTION:Two\\nlines\\; and \\\\n",
        "LOCATION:Barn",
        "DTSTART:20270911",
    )

    assert row.said == "Sorrelhythe, Heron\nBarn\nTwo\nlines; and \\n"
    assert row.note == "Two\nlines; and \\n"
    assert row.reference == "abc"


def test_lines_are_unfolded_by_octets_even_within_a_letter():
    text = diary("DTSTART:20270911\nSUMMARY:Tŷ-Ferrow")
    cut = text.index("ŷ".encode()) + 1

    [row] = read(text[:cut] + b"\r\n " + text[cut:], zone=UTC).rows

    assert row.said == "Tŷ-Ferrow"


@pytest.mark.parametrize("ending", [b"\n", b"\r", b"\r\n"])
@pytest.mark.parametrize(
    ("encoding", "said"),
    [("utf-8", False), ("utf-8-sig", False), ("utf-16", False), ("utf-16-le", True), ("cp1252", True)],
)
def test_whatever_the_encoding_and_the_ends_of_lines(encoding, said, ending):
    text = diary("DTSTART:20270911\nSUMMARY:Tý-Ferrow").replace(b"\r\n", ending).decode()

    sheet = read(text.encode(encoding), zone=UTC)

    assert sheet.rows[0].said == "Tý-Ferrow"
    assert bool(sheet.remarks) == said


def test_what_is_called_off_there_is_left_aside_with_a_word():
    row = only("DTSTART:20270911", "SUMMARY:Sorrelhythe", "STATUS:CANCELLED")

    assert row.aside == "called off in the calendar: “Sorrelhythe”"


def test_tasks_alarms_and_zones_are_passed_over_and_tasks_are_counted():
    data = diary("DTSTART:20270911\nSUMMARY:A\nBEGIN:VALARM\nTRIGGER:-PT1H\nSUMMARY:B\nDTSTART:20280101\nEND:VALARM")
    more = b"BEGIN:VTODO\r\nSUMMARY:C\r\nEND:VTODO\r\nBEGIN:VTIMEZONE\r\nTZID:X\r\nEND:VTIMEZONE\r\nEND:VCALENDAR"

    sheet = read(data.replace(b"END:VCALENDAR", more), zone=UTC)

    assert [row.said for row in sheet.rows] == ["A"]
    assert sheet.remarks == ("1 entry is no event, and is left aside.",)


# What is not


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        (["DTSTART:20270911T090000"], "Line 5: it has an hour and no time zone"),
        (["DTSTART;TZID=Linnow Time:20270911T090000"], "Line 5: the time zone “Linnow Time” is not known"),
        (["DTSTART;TZID=../../etc/passwd:20270911T090000"], "is not known"),
        ([f"DTSTART;TZID={'x' * 500}:20270911T090000"], "is not known"),
        (["DTSTART;VALUE=DATE:20270911", "RRULE:FREQ=DAILY"], "Line 6: it repeats (RRULE)"),
        (["DTSTART;VALUE=DATE:20270911", "RRULE:FREQ=YEARLY;COUNT=2"], "Line 6: it repeats (RRULE)"),
        (["DTSTART;VALUE=DATE:20270911", "RDATE;VALUE=DATE:20270918"], "Line 6: it repeats (RDATE)"),
        (["SUMMARY:Sorrelhythe"], "Line 4: it has no beginning"),
        (["DTSTART;VALUE=DATE:20270911", "DTEND;VALUE=DATE:20270911"], "Line 6: it ends before the day after"),
        (["DTSTART;VALUE=DATE:20270911", "DTEND;VALUE=DATE:20270909"], "Line 6: it ends before the day after"),
        (["DTSTART:20270911T090000Z", "DTEND:20270911T080000Z"], "Line 6: it ends before it begins"),
        (
            ["DTSTART;VALUE=DATE:20270911", "DTEND:20270911T080000Z"],
            "Line 6: it begins with a day and ends with an hour",
        ),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:PT5H"], "Line 6: it begins with a day and lasts for hours"),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:-P1D"], "Line 6: it ends before"),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:P99999999999D"], "is no length of time"),
        (["DTSTART;VALUE=DATE:20270911", "DURATION:soon"], "is no length of time"),
        (["DTSTART;VALUE=DATE:20270230"], "Line 5: “20270230” is no day of the calendar"),
        (["DTSTART;VALUE=DATE:00000000"], "is no day of the calendar"),
        (["DTSTART:20270911T250000Z"], "is no day of the calendar"),
        (["DTSTART;VALUE=DATE:11.9.2027"], "is no day or moment"),
        (["DTSTART;VALUE=DATE:99991231", "DURATION:P9W"], "is no length of time"),
        (["DTSTART;VALUE=DATE:12270911"], "Look at the year 1227"),
        (["DTSTART:20270911", "DTSTART:20270912"], "Line 6: DTSTART a second time"),
        (["DTSTART:20270911", f"UID:{'x' * 600}"], "far too long"),
        (["DTSTART:20270911", "X-KITSHARE-VILLAGE:A", "X-KITSHARE-FRUIT:lots"], "Line 4: “lots” is no amount"),
        (["DTSTART:20270911", "X-KITSHARE-VILLAGE:A", "X-KITSHARE-STAGE:perhaps"], "is no stage"),
    ],
)
def test_an_entry_that_is_not_understood_says_why_and_on_which_line(lines, why):
    assert why in " ".join(only(*lines).problems)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("BEGIN:VCALENDAR\nBEGIN:VCALENDAR\nEND:VCALENDAR\nEND:VCALENDAR", "Line 2: a calendar within a calendar"),
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\nBEGIN:VCALENDAR", "Line 3: a calendar within a calendar"),
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\nBEGIN:VEVENT", "Line 3: VEVENT stands in the wrong place"),
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\nEND:VCALENDAR", "Line 3: END:VCALENDAR ends what has not begun"),
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\nSUMMARY:A", "Line 3: the file breaks off: VEVENT, begun in line 2"),
        ("BEGIN:VCALENDAR\nEND:VCALENDAR\nSUMMARY:A", "Line 3: nothing stands outside"),
        ("BEGIN:VCALENDAR\nEND:VCALENDAR\nEND:VCALENDAR", "Line 3: END:VCALENDAR ends"),
        ("BEGIN:VCALENDAR\nno colon\nEND:VCALENDAR", "Line 2: this is no line of a calendar file"),
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\nDTSTART;=:x\nEND:VEVENT\nEND:VCALENDAR", "Line 3: this is no line"),
        ("BEGIN:VCALENDAR\nCALSCALE:JULIAN\nEND:VCALENDAR", "Line 2: only the Gregorian calendar"),
        ("BEGIN:VCALENDAR\nA:\0\nEND:VCALENDAR", "Line 2: this is no text"),
        ("BEGIN:VCALENDAR\n" + "BEGIN:X\n" * 5000, "Line 9: one thing within another"),
        ("BEGIN:VCALENDAR\nATTACH:" + "x\n " * 40_000, "far too long. Take attachments out"),
        ("BEGIN:VCALENDAR\n" + "BEGIN:VEVENT\nEND:VEVENT\n" * (MOST_ROWS + 1), f"Line {2 * MOST_ROWS + 2}: more than"),
    ],
)
def test_a_file_that_is_not_put_together_as_it_should_be_is_refused_with_its_line(text, why):
    with pytest.raises(FileRefused, match=why):
        read(text.encode(), zone=UTC)


def test_letters_that_no_encoding_knows_are_refused_with_their_line():
    with pytest.raises(FileRefused, match="Line 5: the letters cannot be read"):
        read(diary("SUMMARY:Taff").replace(b"Taff", b"Taff\x81"), zone=UTC)


# Bounds


def test_fifty_megabytes_are_refused_at_once():
    data = diary("DTSTART:20270911") + b"X" * 50_000_000

    began = time.perf_counter()
    with pytest.raises(FileRefused, match="larger than 2 MB"):
        read(data, zone=UTC)

    assert time.perf_counter() - began < 0.1


@pytest.mark.parametrize(
    "line",
    [
        "X-A:" + "y" * 70,
        "BEGIN:X\r\nEND:X",
        " folded " * 9,
        "SUMMARY:" + '"' * 60,
        "DTSTART;" + "A=B;" * 18 + "X=Y:1",
        "",
        "A:1" + "\n" * 20,
    ],
)
def test_the_largest_file_that_is_read_takes_a_moment_and_little_memory(line):
    """Whatever it is full of: read or refused, within a bound that a phone's patience and a small server allow."""
    body = (f"{line}\r\n" * (MOST_BYTES // (len(line) + 2)))[: MOST_BYTES - 200]
    data = f"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n{body}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n".encode()

    began = time.process_time()
    with contextlib.suppress(FileRefused):
        read(data, zone=UTC)
    spent = time.process_time() - began
    tracemalloc.start()
    with contextlib.suppress(FileRefused):
        read(data, zone=UTC)
    _now, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert spent < 5  # measured: less than one second
    assert most < 60_000_000


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.sampled_from(diary("DTSTART:20270911\nUID:1").decode().split("\r\n")) | st.text(max_size=20), max_size=12
    )
)
def test_whatever_lines_a_file_has_it_is_read_or_refused(lines):
    begun = sum(line.upper().startswith("BEGIN:VEVENT") for line in lines)

    with contextlib.suppress(FileRefused):
        assert len(read("\r\n".join(["BEGIN:VCALENDAR", *lines]).encode("utf-8", "replace"), zone=UTC).rows) == begun


def test_an_independent_reader_finds_the_same_days_in_a_foreign_file():
    """vobject, for whole days with an end: what both read, both read alike."""
    data = diary(
        *(
            f"UID:{n}\nSEQUENCE:0\nSTATUS:CONFIRMED\nDESCRIPTION:d\nSUMMARY:s\n"
            f"DTSTART;VALUE=DATE:202709{n:02}\nDTEND;VALUE=DATE:202709{n + 2:02}"
            for n in range(1, 20)
        )
    )

    ours = [(row.reference, row.out_on.isoformat(), row.back_on.isoformat()) for row in read(data, zone=UTC).rows]

    assert sorted(ours) == [(event.uid, event.start, event.end) for event in by_vobject(data)]
    assert datetime.date.fromisoformat(ours[0][1]) == datetime.date(2027, 9, 1)
