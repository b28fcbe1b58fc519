"""Safety tests as the rows of a file: a heading that names what stands where, then a test in each row.

Units stand in the headings. A heading that is not known here is refused, not passed over: what it meant would be lost.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kitshare.rules.instruments import Kind
from kitshare.rules.readings_refusals import LogRefused
from kitshare.rules.readings_table import decoded

MOST_ROWS: Final = 200
MOST_CHARACTERS: Final = 200_000


class Column(StrEnum):
    """What a column may hold, beside what was read or looked at."""

    MACHINE = "machine"
    TEST = "test"
    DAY = "day"
    TESTER = "tested by"
    OUTCOME = "outcome"
    NOTE = "note"
    INSTRUMENT = "instrument"
    PROTECTION = "class"
    HAND_HELD = "hand-held"
    HEATING_KW = "heating kW"
    LEAD_M = "lead m"
    LEAD_MM2 = "lead mm2"
    PORTABLE_SWITCH = "travelling switch"


NEEDED: Final = (Column.MACHINE, Column.TEST, Column.DAY, Column.TESTER, Column.OUTCOME)
READING_HEADINGS: Final[Mapping[Kind, str]] = {
    Kind.VISUAL: "looked over",
    Kind.EARTH: "earth ohm",
    Kind.INSULATION: "insulation Mohm",
    Kind.LEAKAGE: "leakage mA",
    Kind.TRIP_HALF: "holds at half",
    Kind.TRIP_RATED: "trip ms",
    Kind.TRIP_FIVE: "trip at five ms",
    Kind.GUARD: "guards",
    Kind.INTERLOCK: "interlock",
}
HEADINGS: Final = (*(column.value for column in Column), *READING_HEADINGS.values())
_KNOWN: Final = {heading.casefold(): heading for heading in HEADINGS}


class RowsProblem(StrEnum):
    """Why a file cannot be read as tests."""

    UNREADABLE = "unreadable"
    NO_ROWS = "no_rows"
    TOO_MANY = "too_many"
    UNKNOWN_HEADING = "unknown_heading"
    HEADING_TWICE = "heading_twice"
    HEADING_MISSING = "heading_missing"
    UNEVEN = "uneven"


class RowsRefused(ValueError):
    """A file that cannot be read so; `what` names the heading or the line."""

    def __init__(self, problem: RowsProblem, what: str = "") -> None:
        super().__init__(f"{problem}: {what}")
        self.problem = problem
        self.what = what[:80]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One test: the line on which it ends, and its cells by their headings, without blanks around them."""

    line: int
    cells: Mapping[str, str]

    @property
    def is_filled_in(self) -> bool:
        """Whether it says anything beside which test it would be."""
        return any(cell for heading, cell in self.cells.items() if heading not in {Column.MACHINE, Column.TEST})

    def __getitem__(self, heading: str) -> str:
        return self.cells.get(heading, "")


def text_of(data: bytes | str) -> str:
    """The text of a file, with line feeds only. Raises `RowsRefused`."""
    if len(data) > MOST_CHARACTERS:
        raise RowsRefused(RowsProblem.TOO_MANY)
    try:
        return decoded(data)
    except LogRefused:
        raise RowsRefused(RowsProblem.UNREADABLE) from None


def rows_of(data: bytes | str) -> list[Row]:
    """Read at most 200 tests from text with commas, semicolons or tabs between the cells. Raises `RowsRefused`."""
    text = text_of(data)
    first = text.split("\n", 1)[0]
    delimiter = max(";\t,", key=first.count)
    reader = csv.reader(text.split("\n"), delimiter=delimiter)
    try:
        headings = _headings(next(reader))
        rows = [_row(reader.line_num, cells, headings) for cells in reader if any(map(str.strip, cells))]
        rows = [row for row in rows if row.is_filled_in]
    except csv.Error:
        raise RowsRefused(RowsProblem.UNREADABLE) from None
    if not rows:
        raise RowsRefused(RowsProblem.NO_ROWS)
    if len(rows) > MOST_ROWS:
        raise RowsRefused(RowsProblem.TOO_MANY)
    return rows


def _headings(cells: list[str]) -> list[str]:
    headings = []
    for cell in cells:
        found = _KNOWN.get(" ".join(cell.split()).casefold())
        if found is None:
            raise RowsRefused(RowsProblem.UNKNOWN_HEADING, cell.strip())
        if found in headings:
            raise RowsRefused(RowsProblem.HEADING_TWICE, found)
        headings.append(found)
    for needed in NEEDED:
        if needed.value not in headings:
            raise RowsRefused(RowsProblem.HEADING_MISSING, needed.value)
    return headings


def _row(line: int, cells: list[str], headings: list[str]) -> Row:
    if len(cells) != len(headings):
        raise RowsRefused(RowsProblem.UNEVEN, str(line))
    return Row(line=line, cells={heading: _cell(cell) for heading, cell in zip(headings, cells, strict=True)})


def _cell(text: str) -> str:
    """Without the blanks around it, and the apostrophe by which spreadsheets are kept from taking it for a formula."""
    text = text.strip()
    return text[1:] if text[:1] == "'" and text[1:2] in {"=", "+", "-", "@"} else text
