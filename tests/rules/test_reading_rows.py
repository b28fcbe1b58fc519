"""Safety tests as rows of a file: headings that are known, and files that are none."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.reading_rows import HEADINGS, MOST_ROWS, NEEDED, RowsProblem, RowsRefused, rows_of

FIRST = "machine;test;day;tested by;outcome;earth ohm"
ROW = "Heron mill;Electrical test;2027-09-01;Odile;passed;0,19"


@pytest.mark.parametrize("mark", [";", "\t", ","])
def test_cells_stand_between_commas_semicolons_or_tabs(mark):
    row = ROW.replace("0,19", '"0,19"')
    text = f"{FIRST}\n{row}\n\n{row}\n".replace(";", mark)

    first, second = rows_of(text)

    assert (first["machine"], first["earth ohm"], first["note"]) == ("Heron mill", "0,19", "")
    assert (first.line, second.line) == (2, 4)


def test_headings_are_known_whatever_their_case_and_blanks():
    [row] = rows_of("﻿MACHINE ; Test;day;Tested  by;outcome\r\nA;B;C;D;passed".encode())

    assert row["tested by"] == "D"


def test_a_row_in_which_only_the_test_is_named_is_left_out():
    assert [row.line for row in rows_of(f"{FIRST}\nHeron mill;Guards;;;;\n{ROW}")] == [3]


def test_an_apostrophe_against_formulas_is_taken_off():
    rows = rows_of(f"{FIRST}\n'=Mill;'-5;2027-09-01;'Odile;passed;0.1\n'+Mill;'@5;;Odile;;")

    assert [(row["machine"], row["test"], row["tested by"]) for row in rows] == [
        ("=Mill", "-5", "'Odile"),
        ("+Mill", "@5", "Odile"),
    ]


def test_the_heading_alone_says_what_stands_between_the_cells():
    talks = ROW.replace("Odile", ", ".join(["Odile"] * 30))

    assert [row["outcome"] for row in rows_of(f"{FIRST}\n{talks}\n{ROW}")] == ["passed", "passed"]


def test_as_many_rows_and_as_long_a_text_as_may_be_are_read():
    assert len(rows_of(f"{FIRST}\n" + f"{ROW}\n" * MOST_ROWS)) == MOST_ROWS
    assert len(rows_of(f"{FIRST}\n{ROW}".ljust(200_000, "\n"))) == 1


@pytest.mark.parametrize(
    ("text", "problem", "what"),
    [
        (f"{FIRST};earth mohm\n{ROW};1", RowsProblem.UNKNOWN_HEADING, "earth mohm"),
        (f"{FIRST};{'x' * 99}\n{ROW};1", RowsProblem.UNKNOWN_HEADING, "x" * 80),
        (f'{FIRST}\n"' + "x" * 140_000, RowsProblem.UNREADABLE, ""),
        (f"{FIRST};day\n{ROW};1", RowsProblem.HEADING_TWICE, "day"),
        ("machine;test;day;outcome\na;b;c;d", RowsProblem.HEADING_MISSING, "tested by"),
        (f"{FIRST}\n{ROW};more", RowsProblem.UNEVEN, "2"),
        (FIRST, RowsProblem.NO_ROWS, ""),
        (f"{FIRST}\n" + f"{ROW}\n" * (MOST_ROWS + 1), RowsProblem.TOO_MANY, ""),
        ("x" * 200_001, RowsProblem.TOO_MANY, ""),
        (b"PK\x03\x04\x00\x00\x01", RowsProblem.UNREADABLE, ""),
        ("", RowsProblem.UNREADABLE, ""),
    ],
)
def test_what_is_no_such_file_is_refused_with_what_is_wrong(text, problem, what):
    with pytest.raises(RowsRefused) as refused:
        rows_of(text)

    assert (refused.value.problem, refused.value.what) == (problem, what)


def test_what_every_test_needs_comes_first_in_the_list():
    assert HEADINGS[: len(NEEDED)] == tuple(column.value for column in NEEDED)


@given(data=st.one_of(st.binary(max_size=200), st.text(max_size=200)))
@settings(max_examples=100)
def test_whatever_the_file_it_is_read_or_refused(data):
    try:
        rows = rows_of(data)
    except RowsRefused:
        return

    assert rows
