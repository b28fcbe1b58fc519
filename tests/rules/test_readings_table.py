"""The shape of a logger's text, at the bounds of what is taken for one."""

import csv
import io

import pytest

from kitshare.rules import readings_table
from kitshare.rules.readings_clock import TimeForm
from kitshare.rules.readings_refusals import LogProblem, LogRefused
from kitshare.rules.readings_table import MOST_HEADING_LINES, columns_of, decoded, table_of, time_form_of


def refusal(read, *given):
    with pytest.raises(LogRefused) as refused:
        read(*given)
    return refused.value


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_end_of_a_line_becomes_one_sign(end):
    assert decoded(end.join(["a;b", "1;2", ""])) == "a;b\n1;2\n"
    assert decoded(end.join(["a;b", "1;2", ""]).encode()) == "a;b\n1;2\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_signs_beyond_ascii_come_through_each_encoding(encoding):
    assert decoded("Zeit;Kern °C\n1;2".encode(encoding)) == "Zeit;Kern °C\n1;2"


@pytest.mark.parametrize("sign", ["\x01", "\x1f", "\x7f", "\ufffd"])
@pytest.mark.parametrize(("strange", "is_text"), [(10, True), (11, False)])
def test_up_to_one_strange_sign_in_a_hundred_is_text(sign, strange, is_text):
    text = sign * strange + "x" * (1000 - strange)

    if is_text:
        assert decoded(text) == text
    else:
        assert refusal(decoded, text).problem is LogProblem.BINARY


def test_tabs_and_ends_of_pages_are_not_strange_and_only_the_head_is_looked_at():
    spaced = "1;\t2\f\n" * 400

    assert decoded(spaced) == spaced
    text = "x" * 4096 + "\x01" * 900
    assert decoded(text) == text


def test_a_sign_of_nothing_is_never_text_wherever_it_stands():
    assert refusal(decoded, "x" * 9000 + "\x00").problem is LogProblem.BINARY


def test_a_text_is_taken_up_to_its_bounds_and_refused_beyond_with_its_size(monkeypatch):
    monkeypatch.setattr(readings_table, "MOST_BYTES", 8)
    monkeypatch.setattr(readings_table, "MOST_ROWS", 3)

    assert decoded(b"1;2\n2;3\n") == "1;2\n2;3\n"
    too_large = refusal(decoded, b"1;2\n2;3\n\n")
    assert (too_large.problem, too_large.value) == (LogProblem.TOO_LONG, "9")
    assert table_of("1;2\n2;3\n3;4\n\n").count == 3
    too_many = refusal(table_of, "1;2\n2;3\n3;4\n4;5")
    assert (too_many.problem, too_many.value) == (LogProblem.TOO_LONG, "4")


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("14:00;20,5\n14:01;21,5", ";"),
        ("14:00\t20,5\n14:01\t21,5", "\t"),
        ("14:00|20.5\n14:01|21.5", "|"),
        ("14:00,20.5\n14:01,21.5", ","),
        ("14:00 20,5\n14:01 21,5", " "),  # the comma is of the decimals alone
        ("3.10.2026 14:00,20\n3.10.2026 14:01,21", ","),
        ("14:00 20.5\n14:01 21.5", " "),
        ("one;two;three\n14:00,20.5\n14:01,21.5\n14:02,22.5", ","),
        # three of five, and no more, have the sign that usually parts them
        ("14:00;20\n14:01;21\n14:02;22\nx 1\ny 2", ";"),
        ("14:00;20\n14:01;21\n1 20\n2 21\n3 22", " "),
    ],
)
def test_what_parts_the_cells_is_found(text, delimiter):
    assert table_of(text).delimiter == delimiter


@pytest.mark.parametrize(("lines", "found"), [(MOST_HEADING_LINES, True), (MOST_HEADING_LINES + 1, False)])
def test_readings_begin_under_sixty_lines_at_most(lines, found):
    text = "\n".join(["logger;of;a yard"] * lines + ["14:00;20.5;x", "14:01;21.5;x"])

    if found:
        table = table_of(text)
        assert (table.count, table.first_row, table.line_of(1)) == (2, lines, lines + 2)
        assert table.preamble == ("logger of a yard",) * lines
        assert table.heading == ("logger", "of", "a yard")
    else:
        refused = refusal(table_of, text)
        assert (refused.problem, refused.value, refused.line) == (LogProblem.NO_READINGS, "logger;of;a yard", 1)


@pytest.mark.parametrize(
    ("row", "is_reading"),
    [("14:00;20;a;b", True), ("14:00;20;a;b;c", False), ("14:00;a", False), ("1;2", True), ("14:00;3.10.2026", False)],
)
def test_a_reading_has_a_number_and_no_more_than_two_cells_of_something_else(row, is_reading):
    if is_reading:
        assert table_of(row).width == row.count(";") + 1
    else:
        assert refusal(table_of, row).problem is LogProblem.NO_READINGS


FORMS = {
    "plain": "time;temp\n14:00;20.5\n14:01;21.5\n14:02;22.5",
    "quoted": 'time;temp\n"14:00";"20.5"\n14:01;21.5\n14:02;22.5',
    "blank lines": "\ntime;temp\n\n14:00;20.5\n14:01;21.5\n\n14:02;22.5\n\n",
    "empty cells": "time;temp\n14:00;20.5\n;\n14:01;21.5\n ; \n14:02;22.5",
    "no heading": "14:00;20.5\n14:01;21.5\n14:02;22.5",
    "a heading of another width": "readings of the yard\n14:00;20.5\n14:01;21.5\n14:02;22.5",
    "torn decimals": "time,temp\n14:00,20,5\n14:01,21,5\n14:02,22,5",
    "blanks": "time temp\n14:00 20.5\n\n14:01  21.5\n14:02 22.5",
    "tabs": "time\ttemp\n14:00\t20.5\n14:01\t21.5\n14:02\t22.5",
}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_readings_are_found_in_every_form(form):
    table = table_of(FORMS[form])
    cells = [[cell.strip() for cell in table.column(column)] for column in (0, 1)]
    rows = [pair for pair in zip(*cells, strict=True) if any(pair)]

    assert rows == [("14:00", "20.5"), ("14:01", "21.5"), ("14:02", "22.5")]
    assert table.count == len(cells[0])
    assert [cell.strip() for cell in (table.first[0], table.last[1])] == ["14:00", "22.5"]


@pytest.mark.parametrize(
    ("form", "lines"),
    [
        ("plain", [2, 3, 4]),
        ("blank lines", [4, 5, 7]),
        ("blanks", [2, 4, 5]),
        ("quoted", [2, 3, 4]),
        ("no heading", [1, 2, 3]),
    ],
)
def test_each_reading_is_found_again_in_its_line(form, lines):
    table = table_of(FORMS[form])

    assert [table.line_of(row) for row in range(3)] == lines
    assert table.line_of(99) == 1


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_cells_are_those_of_the_csv_module(delimiter):
    rows = [["time", "temp", "note"], *([f"14:{n:02}", f"{n}.5", "a"] for n in range(40))]
    text = "\n".join(delimiter.join(row) for row in rows)

    table = table_of(text)

    plain = list(csv.reader(io.StringIO(text), delimiter=delimiter))[1:]
    assert [table.column(n) for n in range(3)] == [[row[n] for row in plain] for n in range(3)]
    assert table.rows == []  # no list a row where every row is alike
    assert (table.count, table.width, table.heading) == (40, 3, ("time", "temp", "note"))


def test_a_row_too_short_is_named():
    table = table_of('time;temp\n"14:00";20\n14:01\n14:02;22')

    refused = refusal(table.column, 1)

    assert (refused.problem, refused.value, refused.row) == (LogProblem.UNEVEN_ROW, "14:01", 1)


@pytest.mark.parametrize(
    ("text", "underscored"),
    [
        ("temp_c;time\n20.5;14:00\n21.5;14:01", False),
        ("temp_c_;t\n20.5;14:00\n21.5;14:01", False),
        ("temp;time\n20.5;14:00\n2_0.5;14:00\n21.5;14:01", True),
        ("temp_c;time\n20.5;14:00\n2_1.5;14:01", True),
        ("20.5;14:00\n21.5;14:01", False),
    ],
)
def test_a_line_under_a_figure_is_seen_and_one_in_the_heading_is_not(text, underscored):
    assert table_of(text).underscored is underscored


@pytest.mark.parametrize(
    ("text", "unclear"),
    [
        ("14:00,75,2\n14:01,76,2\n14:02,77,2", True),
        ("14:00,75,2\n14:01,76,2", False),  # two rows may have a number of something else at their end
        ("14:00,75,2\n14:01,76,25\n14:02,77,2", False),
        ("a,b,c\n14:00,75,2\n14:01,76,2\n14:02,77,2", False),
        ("3.10.2026,14:00,7\n3.10.2026,14:01,8\n3.10.2026,14:02,9", False),
    ],
)
def test_a_lone_figure_at_the_end_of_each_row_may_be_a_torn_temperature(text, unclear):
    if unclear:
        refused = refusal(table_of, text)
        assert (refused.problem, refused.value) == (LogProblem.DECIMALS_UNCLEAR, "14:00,75,2")
    else:
        assert table_of(text).width == 3


def test_what_the_csv_module_cannot_read_is_refused_as_no_text(monkeypatch):
    monkeypatch.setattr(csv, "field_size_limit", csv.field_size_limit)
    before = csv.field_size_limit(20)
    try:
        refused = refusal(table_of, '14:00;20\n14:01;"' + "2" * 30 + '"')
    finally:
        csv.field_size_limit(before)

    assert refused.problem is LogProblem.BINARY
    assert "field" in refused.value


@pytest.mark.parametrize(
    ("heading", "row", "wanted", "found"),
    [
        ("time;temp", "14:00;20.5", None, (None, 0, 1, ())),
        ("temp;time", "20.5;14:00", None, (None, 1, 0, ())),
        ("date;time;temp", "3.10.2026;14:00;20.5", None, (0, 1, 2, ())),
        ("stamp;temp", "3.10.2026 14:00;20.5", None, (None, 0, 1, ())),
        ("time;bath C;juice C", "14:00;80;75", None, (None, 0, 2, (1,))),
        ("time;bath C;juice C", "14:00;80;75", 1, (None, 0, 1, (2,))),
        ("time;bath C;juice C", "14:00;80;75", 0, (None, 0, 2, (1,))),  # the time is no choice
        ("no;minute;temp", "1;5;20.5", None, (None, 1, 2, ())),
        ("5;20.5", "6;21.5", None, (None, 0, 1, ())),
    ],
)
def test_columns_are_found_by_what_stands_in_them_and_over_them(heading, row, wanted, found):
    columns = columns_of(table_of(f"{heading}\n{row}\n{row}"), wanted)

    assert (columns.date, columns.time, columns.temperature, columns.others) == found


def test_a_log_with_days_alone_is_refused_with_its_first_reading():
    refused = refusal(columns_of, table_of("day;temp\n3.10.2026;20.5\n4.10.2026;21.5"))

    assert (refused.problem, refused.value, refused.line) == (LogProblem.NO_TIME_COLUMN, "3.10.2026 20.5", 2)


@pytest.mark.parametrize(
    ("name", "form"),
    [
        ("minute", TimeForm.MINUTES),
        ("elapsed min", TimeForm.MINUTES),
        ("seconds", TimeForm.SECONDS),
        ("t (s)", TimeForm.SECONDS),
        ("hours", TimeForm.HOURS),
        ("t [h]", TimeForm.HOURS),
        ("time", None),
    ],
)
def test_a_heading_names_the_unit_of_time_or_does_not(name, form):
    assert time_form_of(name) is form
