"""Copies of bookings as files: they come back equal, whatever anybody typed, and no program runs what is in them."""

import csv
import io
import uuid
import zipfile
from collections import Counter
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from types import SimpleNamespace
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import openpyxl
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from kitshare.bookings.calendars import one_line, plain
from kitshare.bookings.models import Booking, FruitUnitChoice, Stage
from kitshare.bringing import actions as bringing
from kitshare.bringing import copies
from kitshare.bringing.cells import LIVE
from kitshare.bringing.naming import Names
from kitshare.bringing.reading import read
from kitshare.bringing.rows import HEADINGS
from kitshare.kits.models import KitShape, Machine
from kitshare.people.models import Village
from tests.bookings.conftest import ask, change
from tests.readers import Read, by_vobject, check_bytes

__all__ = ["ask", "change"]

ZONE = ZoneInfo("UTC")
SIGNS = "é🍎ש\u202e,;\\\"':\n\r\t\x00\x07=+-@|%＝n "
TEXTS = st.text(max_size=80) | st.text(alphabet=SIGNS, max_size=40)
NAMES = TEXTS.map(one_line).map(lambda name: name[:60].strip()).filter(bool)
HOSTILE = [
    "=1+1",
    "'=1+1",
    "''+x",
    "@SUM(A1)",
    " =cmd|' /C calc'!A0",
    "\t=1",
    'a "quoted"; name, with \\ all',
    "x\nEND:VEVENT\nBEGIN:VEVENT",
    "back\\slash \\n \\N \\\\N",
    "_x0041_ &amp; <b>",
    "𝕋ŷ-Ferrow's ½",
    "1e5",
    "2027-09-11",
    "TRUE",
    "007",
]


class OnlyNames:
    """Stands for the register of names, where no database had to take them."""

    def of_machine(self, machine):
        return machine.name

    def of_borrower(self, booking):
        return booking.borrower.name


def booking_of(*, village="Sorrelhythe", borrower="Sunniva", machines=("Heron mill",), **facts) -> Booking:
    kit = SimpleNamespace(pk=1, name="Heron", shape=KitShape.SQUARE)
    made = [SimpleNamespace(name=name, kit_id=1, kit=kit) for name in machines]
    stands_for = {
        "pk": 7,
        "uid": uuid.uuid4(),
        "village": SimpleNamespace(name=village),
        "borrower": SimpleNamespace(name=borrower),
        "machines": SimpleNamespace(all=lambda: made),
        "stage": Stage.AGREED,
        "out_on": date(2027, 9, 11),
        "back_on": date(2027, 9, 13),
        "out_time": time(10),
        "back_time": time(9),
        "fruit_amount": Decimal("12.5"),
        "fruit_unit": "crate",
        "note": "",
        "reason": "",
        "sequence": 1,
        "asked_at": datetime(2027, 9, 1, 9, tzinfo=UTC),
        "changed_at": datetime(2027, 9, 1, 9, tzinfo=UTC),
    }
    return SimpleNamespace(**(stands_for | facts))


def said(booking) -> tuple:
    """What a person reads of a booking: text without what no file and no screen can show."""
    return (
        str(booking.uid),
        one_line(booking.village.name),
        one_line(booking.borrower.name),
        tuple(one_line(machine.name) for machine in booking.machines.all()),
        booking.out_on,
        booking.back_on,
        booking.out_time,
        booking.back_time,
        booking.fruit_amount,
        booking.fruit_unit,
        booking.stage,
        plain(booking.note).strip(),
        plain(booking.reason).strip(),
    )


def read_back(data: bytes) -> list[tuple]:
    sheet = read(data, zone=ZONE)
    assert [row.problems for row in sheet.rows] == [()] * len(sheet.rows)
    return [
        (
            row.reference.removesuffix("@kitshare"),
            row.village,
            row.borrower,
            row.machines,
            row.out_on,
            row.back_on,
            row.out_time,
            row.back_time,
            row.fruit_amount,
            row.fruit_unit,
            row.stage,
            row.note,
            row.reason,
        )
        for row in sheet.rows
    ]


TIMES = st.times().map(lambda at: at.replace(microsecond=0, fold=0))
BOOKINGS = st.builds(
    booking_of,
    village=NAMES,
    borrower=NAMES,
    machines=st.lists(NAMES, min_size=1, max_size=4),
    note=TEXTS,
    reason=TEXTS,
    stage=st.sampled_from([stage for stage in Stage if stage != Stage.WAITING]),
    out_on=st.dates(date(1990, 1, 1), date(2099, 1, 1)),
    back_on=st.dates(date(2099, 1, 2), date(2100, 12, 31)),
    out_time=TIMES,
    back_time=TIMES,
    fruit_amount=st.decimals(Decimal("0.1"), Decimal(20000), places=1),
    fruit_unit=st.sampled_from(FruitUnitChoice).map(str),
    uid=st.uuids(),
)


@pytest.mark.parametrize("kind", copies.KINDS)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(BOOKINGS, max_size=3))
@example(
    [booking_of(village=text, borrower=text, machines=[text, "b; c"], note=text) for text in map(str.strip, HOSTILE)]
)
def test_whatever_was_typed_comes_back_as_a_person_would_read_it(kind, bookings):
    data = copies.WRITERS[kind](bookings, OnlyNames())

    assert read_back(data) == [said(one) for one in bookings]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_spreadsheet_finds_a_formula(text):
    """By the csv module and by openpyxl, as somebody else's program would read them."""
    bookings = [booking_of(village=text, borrower=text, note=text, machines=[text])]

    rows = list(csv.reader(io.StringIO(copies.as_csv(bookings, OnlyNames()).decode("utf-8-sig"))))
    book = openpyxl.load_workbook(io.BytesIO(copies.as_workbook(bookings, OnlyNames())))

    assert not [cell for row in rows for cell in row if LIVE.match(cell)]
    cells = [cell for row in book.active.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "d", "n"}
    assert not [cell.value for cell in cells if cell.data_type == "s" and LIVE.match(cell.value)]


def test_no_cell_of_a_workbook_is_a_formula_by_the_letter_of_its_xml():
    """ECMA-376, 18.3.1.40: a formula is an element f in its cell."""
    data = copies.as_workbook([booking_of(village=text, note=text) for text in HOSTILE], OnlyNames())

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        tree = ElementTree.fromstring(archive.read("xl/worksheets/sheet1.xml"))  # noqa: S314 - our own

    tags = Counter(element.tag.rpartition("}")[2] for element in tree.iter())
    assert tags["row"] == len(HOSTILE) + 1
    assert tags["f"] == 0


def test_a_workbook_has_days_and_numbers_that_can_be_sorted():
    book = openpyxl.load_workbook(io.BytesIO(copies.as_workbook([booking_of()], OnlyNames())))

    heading, row = book.active.iter_rows()
    found = {head.value: cell for head, cell in zip(heading, row, strict=True)}
    assert list(found) == [str(word) for word in HEADINGS.values()]
    assert found["Goes out on"].is_date
    assert found["Fruit"].value == 12.5


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(BOOKINGS, max_size=3, unique_by=lambda one: one.uid))
def test_the_calendar_is_right_by_the_byte_and_by_an_independent_reader(bookings):
    text = copies.as_calendar(bookings, OnlyNames())

    check_bytes(text)
    assert [(event.uid, event.start) for event in by_vobject(text)] == sorted(
        (f"{one.uid}@kitshare", one.out_on.isoformat()) for one in bookings
    )


def hostile_calendar(texts=HOSTILE) -> bytes:
    return copies.as_calendar([booking_of(village=text, borrower=text, note=text) for text in texts], OnlyNames())


def test_the_reference_library_has_no_complaint(libical):
    assert libical.complaints(hostile_calendar()) == []


def test_every_reader_reads_the_calendar_alike(by_node):
    # node-ical takes an escaped backslash followed by an n for an end of line.
    texts = [text for text in HOSTILE if "\\n" not in text]
    text = hostile_calendar(texts)

    others = by_vobject(text)
    assert len(others) == len(texts)
    for name, [events] in by_node([text]).items():
        # node-ical takes blanks off both ends of a text.
        assert [_bare(event) for event in events] == [_bare(event) for event in others], name


def _bare(event: Read) -> tuple:
    return (event.uid, event.start, event.end, event.summary.strip(), event.description.strip(), event.status)


# On a site: everything goes out as a file, and a site without bookings takes it in


@pytest.fixture
def every_stage(ask, change, season, sorrelhythe, fennerlow, leilani, mill, press, otter_mill, perpetua, now, today):
    """A booking at each stage but waiting, with two mills of one name, and a borrower whom two share the name of."""
    Machine.objects.filter(pk=otter_mill.pk).update(name="Heron mill")
    Machine.objects.filter(pk=press.pk).update(name='=1+1; the "new" press, \\n')
    Village.objects.filter(pk=fennerlow.pk).update(name="@Tŷ-Ferrow's; “old”, yard\\")
    over = [Stage.CLOSED, Stage.BACK, Stage.OUT]
    for number, stage in enumerate([*over, *(stage for stage in Stage if stage not in (*over, Stage.WAITING))]):
        first = date(2027, 8, 20) + timedelta(days=4 * number)
        Booking.objects.create(
            village=fennerlow,
            borrower=leilani,
            stage=stage,
            out_on=first,
            back_on=first + timedelta(days=2),
            fruit_amount=Decimal("3.5"),
            fruit_unit="sack",
            fruit_kg=Decimal("87.5"),
            note="=1+1; “quoted”\nand a second line",
            reason="The causeway is under water." if stage in {Stage.DECLINED, Stage.CALLED_OFF} else "",
            asked_at=now,
            changed_at=now,
        ).machines.set([otter_mill, press])
    return list(Booking.objects.with_people().order_by("out_on", "pk"))


@pytest.mark.django_db
@pytest.mark.parametrize("kind", copies.KINDS)
def test_a_site_that_takes_its_own_copy_in_has_the_same_bookings(kind, every_stage, sorrelhythe, perpetua, now, scheme):
    before = [said(one) for one in every_stage]
    data = copies.WRITERS[kind](every_stage, Names())
    Booking.objects.all().delete()

    sheet = read(data, zone=ZONE)
    kept = bringing.keep(
        name="copy", digest="", sheet=sheet, coming_as="agreed", telling="nobody", fruit_kg=None, by=perpetua, at=now
    )
    bringing.bring_in(brought=kept, by=perpetua, at=now, today=date(2027, 8, 29))

    assert [said(one) for one in Booking.objects.with_people().order_by("out_on", "pk")] == before
    assert len(before) == len(Stage) - 1


@pytest.mark.django_db
@pytest.mark.parametrize("kind", copies.KINDS)
def test_a_copy_of_what_is_here_changes_nothing(kind, every_stage, scheme, perpetua, now, today):
    sheet = read(copies.WRITERS[kind](every_stage, Names()), zone=ZONE)

    kept = bringing.keep(
        name="copy", digest="", sheet=sheet, coming_as="agreed", telling="nobody", fruit_kg=None, by=perpetua, at=now
    )

    verdicts = bringing.look(kept, scheme=scheme, today=today).verdicts
    assert [one.standing for one in verdicts] == ["here"] * (len(Stage) - 1)
    assert not [one for one in verdicts if "otherwise" in " ".join(one.words)]


@pytest.mark.django_db
def test_a_copy_names_a_borrower_by_address_where_two_have_the_name(season, sorrelhythe, sunniva, leilani, ask):
    leilani.name = sunniva.name
    leilani.save()
    sorrelhythe.borrowers.add(leilani)

    [booking] = [ask()]

    assert Names().of_borrower(booking) == "sunniva@example.org"
    assert Names().borrower("sunniva@example.org", Village.objects.get()) == sunniva

    sunniva.email, sunniva.telephone = None, "01632 960 299"
    sunniva.save()
    booking.borrower = sunniva
    assert Names().of_borrower(booking) == "01632 960 299"
    assert Names().borrower("01632 960 299", Village.objects.get()) == sunniva
