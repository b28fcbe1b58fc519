"""Tables as people send them: CSV in every dress, and workbooks that are not all they seem."""

import contextlib
import datetime
import io
import re
import time
import tracemalloc
import zipfile

import openpyxl
import pytest

from kitshare.bringing.reading import read
from kitshare.bringing.rows import MOST_ROWS, FileRefused, as_plain, from_plain
from tests.bringing.conftest import UTC, table

HEAD = "Village,Machines,Goes out on,Back by the morning of,Fruit,Note"
ROW = "Tŷ-Ferrow,Heron,2027-09-11,2027-09-13,400,Two trailers"


def only(data: bytes):
    [row] = read(data, zone=UTC).rows
    return row


def workbook(*rows, sheet=None) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def rewritten(data: bytes, name: str, change) -> bytes:
    """A workbook with one of its files changed, byte for byte."""
    old, kept = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as new:
        for file in old.infolist():
            text = old.read(file)
            new.writestr(file.filename, change(text) if file.filename == name else text)
    return kept.getvalue()


HEADS = HEAD.split(",")


# CSV


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", ""),
        ("utf-8-sig", ""),
        ("utf-16", ""),
        ("utf-16-le", "UTF-16"),
        ("utf-16-be", "UTF-16"),
        ("utf-32", ""),
        ("cp1252", "Windows-1252"),
    ],
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_whatever_the_encoding_and_the_delimiter_it_is_read_and_a_guess_is_said(encoding, said, delimiter):
    text = f"{HEAD}\r\n{ROW}\r\n".replace("ŷ", "ý").replace(",", delimiter)

    sheet = read(text.encode(encoding), zone=UTC)

    [row] = sheet.rows
    assert (row.village, row.note, row.place) == ("Tý-Ferrow", "Two trailers", 2)
    assert (said in " ".join(sheet.remarks)) if said else sheet.remarks == ()


def test_a_cell_over_several_lines_keeps_the_count_of_lines():
    data = f'{HEAD}\n{ROW[:-12]}"one\ntwo"\n\n{ROW}\n'.encode()

    first, second = read(data, zone=UTC).rows

    assert (first.place, first.note) == (2, "one\ntwo")
    assert second.place == 5


def test_columns_in_any_order_and_case_are_found_and_others_are_said():
    data = b"KIT,Telephone,back,OUT,village\nHeron,01632,2027-09-13,2027-09-11,Sorrelhythe\n"

    sheet = read(data, zone=UTC)

    assert sheet.rows[0].machines == ("Heron",)
    assert sheet.remarks == ("Columns left aside: Telephone",)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is empty"),
        (b" \r\n \r\n", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0", "this is no text"),
        (b"%PDF-1.7\n%\xe2\xe3", "must name the columns"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 100, "of an old kind"),
        (b"Village,Machines\nSorrelhythe,Heron\n", "Goes out on, Back by the morning of"),
        (b"Village,Village,Machines,Out,Back\n", "two columns are called"),
        (f'{HEAD}\n{ROW[:-12]}"never closed\n'.encode(), "Line 2: the table breaks off here"),
        (f'{HEAD}\n{ROW}\n{ROW[:-12]}"shut" too early\n'.encode(), "Line 3: the table breaks off here"),
        (HEAD.encode() + b"\nTaff\x81,Heron,2027-09-11,2027-09-13,1,\n", "Line 2: the letters cannot be read"),
        (HEAD.encode() + b"\n" + b"x" * 200_000, "Line 2: the table breaks off"),
        (f"{HEAD}\n{ROW}\n".encode("utf-16")[:-1], "the letters cannot be read"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line(data, why):
    with pytest.raises(FileRefused, match=why):
        read(data, zone=UTC)


def test_more_rows_than_any_scheme_has_are_refused_with_the_line():
    with pytest.raises(FileRefused, match=rf"Line {MOST_ROWS + 2}: more than"):
        read(f"{HEAD}\n{f'{ROW}{chr(10)}' * (MOST_ROWS + 1)}".encode(), zone=UTC)


# Cells


@pytest.mark.parametrize(
    "typed",
    [
        "2027-09-11",
        "2027-9-11",
        "2027-09-11 00:00:00",
        "Sat 2027-09-11",
        "Saturday, 11 September 2027",
        "Sat 11 Sep 2027",
        "11 Sept. 2027",
        "September 11, 2027",
        "11th September 2027",
        "11.9.2027",
        "11.09.2027",
        "Sat 11/09/2027",
        "Sat 09/11/2027",
    ],
)
def test_a_day_is_read_as_people_write_it(typed):
    assert only(table({"out_on": typed})).out_on == datetime.date(2027, 9, 11)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("11/09/2027", "may be 2027-09-11 or 2027-11-09"),
        ("Sun 2027-09-11", "that day is a Saturday"),
        ("2027-02-30", "is no day"),
        ("11/9/27", "is no day"),
        ("Sat 11 Sep", "is no day"),
        ("11 Ju 2027", "is no day"),
        ("46641", "is no day"),
        ("soon", "is no day"),
        ("0027-09-11", "Look at the year 27"),
        ("9999-12-31", "Look at the year 9999"),
        ("2027-09-11T09:00", "is no day"),
    ],
)
def test_a_day_that_means_nothing_or_two_things_is_not_guessed(typed, why):
    row = only(table({"out_on": typed}))

    assert row.out_on is None
    assert why in row.problems[0]
    assert row.problems[0].startswith("Goes out on: ")


@pytest.mark.parametrize(
    ("typed", "unit", "amount", "found"),
    [
        ("400", "", "400", "kg"),
        ("12,5", "crates", "12.5", "crate"),
        ("1 200", "kg", "1200", "kg"),
        ("20 crates", "", "20", "crate"),
        ("20 crates", "crate", "20", "crate"),
        ("3.5 lb", "", "3.5", "lb"),
        ("7", "Sacks", "7", "sack"),
    ],
)
def test_fruit_is_read_with_its_unit(typed, unit, amount, found):
    row = only(table({"fruit_amount": typed, "fruit_unit": unit}))

    assert (row.problems, str(row.fruit_amount), row.fruit_unit) == ((), amount, found)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"fruit_amount": "1,200"}, "“1,200” is no amount"),
        ({"fruit_amount": "-4"}, "is no amount"),
        ({"fruit_amount": "1e5"}, "is no amount"),
        ({"fruit_amount": "lots"}, "is no amount"),
        ({"fruit_amount": "٣"}, "is no amount"),
        ({"fruit_unit": "barrels"}, "is no unit of ours: kilograms, pounds, crates, sacks, bushels"),
        ({"fruit_amount": "4 sacks", "fruit_unit": "crates"}, "Two units"),
        ({"stage": "maybe"}, "is no stage: asked, agreed"),
        ({"machines": 'Heron; "mill'}, "a quotation mark is not closed"),
        ({"note": "x" * 2001}, "Note: longer than 2000 letters"),
    ],
)
def test_what_a_cell_cannot_mean_is_said_beside_its_heading(changes, why):
    assert why in " ".join(only(table(changes)).problems)


def test_a_row_is_kept_and_comes_back_as_it_was():
    for changes in ({}, {"out_on": "soon"}, {"machines": "Heron mill; Otter"}, {"fruit_amount": ""}):
        row = only(table(changes))

        assert from_plain(as_plain(row)) == row


# Workbooks


def test_a_workbook_is_read_with_its_days_and_numbers():
    data = workbook(HEADS, [], ["Sorrelhythe", "Heron", datetime.date(2027, 9, 11), "2027-09-13", 12.3, "=x"[1:]])

    row = only(data)

    assert (row.out_on, row.back_on) == (datetime.date(2027, 9, 11), datetime.date(2027, 9, 13))
    assert str(row.fruit_amount) == "12.3"
    assert row.place == 3


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        (["Sorrelhythe", "Heron", datetime.time(9), "2027-09-13", 4], "Goes out on: “09:00:00” is a bare number"),
        (["Sorrelhythe", "Heron", 46641, "2027-09-13", 4], "Goes out on: “46641” is a bare number"),
        (["Sorrelhythe", "Heron", datetime.datetime(2027, 9, 11, 9), "2027-09-13", 4], "is a moment"),  # noqa: DTZ001
        (["Sorrelhythe", "Heron", True, "2027-09-13", 4], "is a bare number"),
        (["Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", "=2*200"], "Fruit: a formula"),
        (["=HYPERLINK(1)", "Heron", "2027-09-11", "2027-09-13", 4], "Village: a formula"),
        (["Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", -4], "is no amount"),
        (["Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", False], "is no amount"),
        (["Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", 1e300], "is no amount"),
    ],
)
def test_a_cell_of_a_workbook_that_is_not_what_it_should_be_is_said(cells, why):
    assert why in " ".join(only(workbook(HEADS, cells)).problems)


def test_a_day_beyond_the_calendar_is_not_understood():
    data = workbook(HEADS, ["Sorrelhythe", "Heron", datetime.date(2027, 9, 11), "2027-09-13", 4])
    data = rewritten(data, "xl/worksheets/sheet1.xml", lambda text: text.replace(b"<v>46641</v>", b"<v>99999999</v>"))

    assert "is no day" in only(data).problems[0]


def test_rows_beyond_what_the_sheet_says_of_itself_are_read_all_the_same():
    data = workbook(HEADS, *[["Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", number] for number in (1, 2, 3)])
    data = rewritten(
        data,
        "xl/worksheets/sheet1.xml",
        lambda text: text.replace(b'<dimension ref="A1:F4"', b'<dimension ref="A1:B2"'),
    )

    assert [str(row.fruit_amount) for row in read(data, zone=UTC).rows] == ["1", "2", "3"]


def test_openpyxl_reads_xml_by_defusedxml():
    assert openpyxl.DEFUSEDXML
    assert not openpyxl.LXML


def bomb(text: bytes) -> bytes:
    """Ten times ten times ten ... of the same word, by entities."""
    levels = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 9))
    head = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "Heron">{levels}]>'.encode()
    body = text.partition(b"?>")[2] if text.startswith(b"<?xml") else text
    return head + body


@pytest.mark.parametrize(
    "name", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"]
)
def test_entities_that_swell_are_refused(name):
    with pytest.raises(FileRefused, match=r"no spreadsheet writes|no workbook that can be read"):
        read(rewritten(workbook(HEADS), name, bomb), zone=UTC)


def test_a_small_file_that_unpacks_to_a_vast_one_is_refused_before_it_is_unpacked():
    data = rewritten(workbook(HEADS), "xl/styles.xml", lambda text: b" " * 40_000_000)
    assert len(data) < 1_000_000

    began = time.perf_counter()
    with pytest.raises(FileRefused, match="unpacks to far more"):
        read(data, zone=UTC)

    assert time.perf_counter() - began < 1


def test_an_archive_that_lies_about_its_size_is_never_unpacked_beyond_what_it_says():
    data = bytearray(rewritten(workbook(HEADS), "xl/worksheets/sheet1.xml", lambda text: b" " * 30_000_000))
    true, told = (30_000_000).to_bytes(4, "little"), (1000).to_bytes(4, "little")
    assert data.count(true) == 2

    tracemalloc.start()
    with pytest.raises(FileRefused, match="no workbook that can be read"):
        read(bytes(data.replace(true, told)), zone=UTC)
    _now, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert most < 5_000_000


@pytest.mark.parametrize(
    ("name", "place", "filling", "times"),
    [
        ("xl/worksheets/sheet1.xml", b"</sheetData>", b'<row r="2">%b</row>', b"<c><v>1</v></c>" * 245_000),
        ("xl/styles.xml", b"<fonts", b"<fonts>%b</fonts>", b"<font/>" * 56_000),
        ("[Content_Types].xml", b"</Types>", b"%b", b'<Override PartName="/a" ContentType="b"/>' * 9_000),
    ],
)
def test_the_largest_workbook_that_is_read_takes_no_more_than_seconds(name, place, filling, times):
    """Each text of it filled to just under its bound. Measured: two seconds at most."""
    data = rewritten(workbook(HEADS), name, lambda text: text.replace(place, filling % times + place, 1))

    began = time.process_time()
    with contextlib.suppress(FileRefused):
        read(data, zone=UTC)

    assert time.process_time() - began < 10


@pytest.mark.parametrize("name", ["xl/styles.xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"])
def test_a_workbook_beyond_the_bound_is_refused_unread(name):
    size = 6_000_000 if "sheet1" in name else 500_000

    with pytest.raises(FileRefused, match="unpacks to far more"):
        read(rewritten(workbook(HEADS), name, lambda text: b" " * size), zone=UTC)


def test_a_sheet_without_end_is_refused_with_its_row():
    far = b'<row r="1048576"><c r="A1048576" t="inlineStr"><is><t>x</t></is></c></row></sheetData>'
    data = rewritten(workbook(HEADS), "xl/worksheets/sheet1.xml", lambda text: text.replace(b"</sheetData>", far))

    with pytest.raises(FileRefused, match="Line 10000: the sheet goes on and on"):
        read(data, zone=UTC)


def test_a_cell_far_to_the_right_costs_nothing():
    wide = b'<c r="XFD1" t="inlineStr"><is><t>x</t></is></c></row></sheetData>'
    data = rewritten(
        workbook(HEADS), "xl/worksheets/sheet1.xml", lambda text: text.replace(b"</row></sheetData>", wide)
    )

    assert read(data, zone=UTC).rows == []


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("xl/worksheets/sheet1.xml", lambda text: text[:-30]),
        ("xl/workbook.xml", lambda text: b"<a/>"),
        ("xl/styles.xml", lambda text: b"\xff\xfe"),
        ("[Content_Types].xml", lambda text: b""),
        ("xl/_rels/workbook.xml.rels", lambda text: text.replace(b"sheet1.xml", b"nowhere.xml")),
        (
            "xl/worksheets/sheet1.xml",
            lambda text: text.replace(b't="inlineStr"><is><t>Village</t></is>', b't="s"><v>99</v>'),
        ),
    ],
)
def test_a_damaged_workbook_is_refused_in_words(name, change):
    with pytest.raises(FileRefused, match=r"no workbook|no sheet|name the columns"):
        read(rewritten(workbook(HEADS), name, change), zone=UTC)


@pytest.mark.parametrize("cut", [10, 100, -100, -10])
def test_half_a_workbook_is_refused_in_words(cut):
    with pytest.raises(FileRefused, match="no workbook that can be read"):
        read(workbook(HEADS)[:cut], zone=UTC)


def test_an_archive_of_something_else_is_no_workbook():
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")

    with pytest.raises(FileRefused, match="Save it as"):
        read(kept.getvalue(), zone=UTC)


def test_only_the_first_sheet_is_read_and_that_is_said():
    book = openpyxl.Workbook()
    book.active.append(HEADS)
    book.create_sheet("Old")
    kept = io.BytesIO()
    book.save(kept)

    assert read(kept.getvalue(), zone=UTC).remarks == ("Only the first sheet is read, “Sheet”.",)


SHARED = """<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">%s</sst>"""
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def test_a_workbook_with_its_words_in_a_table_of_their_own_is_read():
    """As other programs write it: each text once, and cells that point at it (ECMA-376, 18.4.9)."""
    words = [*HEADS, "Sorrelhythe", "Heron", "2027-09-11", "2027-09-13", "400", "=1+1 &amp; more"]
    cells = ["".join(f'<c t="s"><v>{n}</v></c>' for n in range(start, start + 6)) for start in (0, 6)]
    rows = "".join(f'<row r="{n}">{row}</row>' for n, row in enumerate(cells, start=1))
    data = rewritten(
        workbook(),
        "xl/worksheets/sheet1.xml",
        lambda text: re.sub(rb"<sheetData.*?(/>|</sheetData>)", f"<sheetData>{rows}</sheetData>".encode(), text),
    )
    data = rewritten(
        data,
        "[Content_Types].xml",
        lambda text: text.replace(
            b"</Types>", f'<Override PartName="/xl/sharedStrings.xml" ContentType="{TYPE}"/></Types>'.encode()
        ),
    )
    kept = io.BytesIO(data)
    with zipfile.ZipFile(kept, "a") as archive:
        if "xl/sharedStrings.xml" not in archive.namelist():
            archive.writestr("xl/sharedStrings.xml", SHARED % "".join(f"<si><t>{word}</t></si>" for word in words))

    row = only(kept.getvalue())

    assert (row.village, row.machines, str(row.fruit_amount)) == ("Sorrelhythe", ("Heron",), "400")
    assert row.note == "=1+1 & more"
