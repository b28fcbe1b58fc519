"""The shape of a logger's text: encoding, delimiter, heading, rows, and which column holds what."""

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice, repeat
from operator import itemgetter
from re import IGNORECASE
from re import compile as pattern

from kitshare.rules.readings_clock import TimeForm, looks_clock, looks_dated
from kitshare.rules.readings_refusals import LogProblem, LogRefused

MOST_BYTES = 40_000_000
MOST_ROWS = 500_000
MOST_HEADING_LINES = 60
DELIMITERS = ("\t", ";", "|", ",")

NUMBER = pattern(r"^[+-]?\d+([.,]\d+)?\s*[°º]?\s*[CFcf]?$")
PLAIN_NUMBER = pattern(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)$")
FAHRENHEIT = pattern(r"fahrenheit|[°º]\s*f\b|\bdeg\s*_?f\b|[_( \[]f[)\]]?$|^f$|\d\s*[°º]?f$", IGNORECASE)
CELSIUS = pattern(r"celsius|centigrade|[°º]\s*c\b|\bdeg\s*_?c\b|[_( \[]c[)\]]?$|^c$|\d\s*[°º]?c$", IGNORECASE)
IN_JUICE = pattern(r"juice|bottle|core|kern|cent(re|er)|product", IGNORECASE)
TEMPERATURE = pattern(r"temp|[°º]|celsius|fahrenheit|\bdeg|juice|bottle|core|probe|^[cf]$", IGNORECASE)
TIME = pattern(r"time|zeit|heure|hora|minute|second|elapsed|date|clock|^(t|min|mins|sec|s|h)$", IGNORECASE)
IN_SECONDS = pattern(r"sec|\bs\b|_s$", IGNORECASE)
IN_MINUTES = pattern(r"min", IGNORECASE)
IN_HOURS = pattern(r"hour|\bhrs?\b|\bh\b|_h$", IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The readings, the heading over them, and how to find a reading's line again.

    The readings stand in `rows`, or, where every line has `width` cells and none is quoted, one
    after the other in `cells`: a log of 200,000 rows then costs no 200,000 lists.
    """

    rows: list[list[str]]
    cells: list[str]
    width: int
    count: int
    heading: tuple[str, ...]
    preamble: tuple[str, ...]
    delimiter: str
    text: str
    first_row: int
    underscored: bool

    @property
    def first(self) -> list[str]:
        """The cells of the first reading."""
        return self.rows[0] if self.rows else self.cells[: self.width]

    @property
    def last(self) -> list[str]:
        """The cells of the last reading."""
        return self.rows[-1] if self.rows else self.cells[-self.width :]

    def column(self, column: int) -> list[str]:
        """Return the cells of one column. Raises `LogRefused`: UNEVEN_ROW for a row too short."""
        if not self.rows:
            return self.cells[column :: self.width]
        try:
            return list(map(itemgetter(column), self.rows))
        except IndexError:
            row = next(i for i, cells in enumerate(self.rows) if len(cells) <= column)
            value = " ".join(self.rows[row])
            raise LogRefused(LogProblem.UNEVEN_ROW, value=value, row=row) from None

    def line_of(self, row: int) -> int:
        """Return the line, from one, on which a row ends in the text given."""
        wanted = self.first_row + row
        if self.delimiter == " ":
            full = (n for n, line in enumerate(self.text.split("\n"), 1) if line.strip())
        else:
            reader = csv.reader(self.text.split("\n"), delimiter=self.delimiter)
            full = (reader.line_num for cells in reader if any(map(str.strip, cells)))
        return next(islice(full, wanted, None), 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Where the date (if apart), the time and the temperature stand."""

    date: int | None
    time: int
    temperature: int
    others: tuple[int, ...]


def decoded(data: bytes | str) -> str:
    """Return text with line feeds only, from UTF-8, UTF-16 or, failing both, the usual western code
    page.

    Raises `LogRefused`: EMPTY, TOO_LONG, or BINARY where control characters show that it is no
    text.
    """
    if len(data) > MOST_BYTES:
        raise LogRefused(LogProblem.TOO_LONG, value=str(len(data)))
    if isinstance(data, bytes):
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            text = data.decode("utf-16", errors="replace")
        else:
            try:
                text = data.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = data.decode("cp1252", errors="replace")
    else:
        text = data.removeprefix("\ufeff")
    head = text[:4096]
    strange = sum(1 for c in head if (c < " " and c not in "\t\r\n\f") or c in "\x7f\ufffd")
    if "\x00" in text or strange > len(head) / 100:
        raise LogRefused(LogProblem.BINARY)
    if not text.strip():
        raise LogRefused(LogProblem.EMPTY)
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _delimiter(lines: Sequence[str]) -> str:
    sample = [line for line in lines if line.strip()][-200:]
    for candidate in DELIMITERS:
        counts = Counter(line.count(candidate) for line in sample)
        usual, times = counts.most_common(1)[0]
        decimal_only = candidate == "," and all(
            len(parts := line.split()) > 1 and NUMBER.match(parts[-1]) and "," not in parts[0] for line in sample[-20:]
        )
        if usual and times >= 0.6 * len(sample) and not decimal_only:
            return candidate
    return " "


def _is_reading(cells: Sequence[str]) -> bool:
    filled = [cell.strip() for cell in cells if cell.strip()]
    numbers = sum(1 for cell in filled if NUMBER.match(cell))
    stamps = sum(1 for cell in filled if looks_clock(cell) or looks_dated(cell))
    return numbers >= 1 and numbers + stamps >= 2 and numbers + stamps >= len(filled) - 2


def table_of(text: str) -> Table:
    """Split text into a heading and readings. Raises `LogRefused`."""
    lines = text.split("\n")
    while lines and not lines[-1].strip():
        lines.pop()
    if len(lines) > MOST_ROWS:
        raise LogRefused(LogProblem.TOO_LONG, value=str(len(lines)))
    delimiter = _delimiter(lines[:400])
    top = _split(lines[: 4 * MOST_HEADING_LINES], delimiter)[: MOST_HEADING_LINES + 1]
    first = next((i for i, cells in enumerate(top) if _is_reading(cells)), None)
    if first is None:
        raise LogRefused(LogProblem.NO_READINGS, value=lines[0].strip(), line=1)
    heading = tuple(c.strip() for c in top[first - 1]) if first else ()
    width = len(top[first])
    filled = (n for n, line in enumerate(lines) if line.strip().strip(delimiter))
    start = next(islice(filled, first, None), 0)
    cells = _flat(lines[start:], delimiter, width) if len(heading) in (0, width) else []
    rows = [] if cells else _mended(_split(lines, delimiter)[first:], heading, delimiter)
    return Table(
        rows=rows,
        cells=cells,
        width=width,
        count=len(cells) // width if cells else len(rows),
        heading=heading,
        preamble=tuple(" ".join(cells).strip() for cells in top[:first]),
        delimiter=delimiter,
        text=text,
        first_row=first,
        # Python reads 1_0 as ten, a person does not.
        underscored=text.rfind("_") > sum(len(line) + 1 for line in lines[:start]),
    )


def _flat(lines: list[str], delimiter: str, width: int) -> list[str]:
    """Every cell of every line, if each line has `width` of them unquoted; else nothing."""
    if delimiter == " " or (delimiter == "," and width == 3):
        return []
    body = "\n".join(lines)
    if '"' in body or set(map(str.count, lines, repeat(delimiter))) != {width - 1}:
        return []
    return body.replace("\n", delimiter).split(delimiter)


def _split(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Rows of cells, blank lines left out. Raises `LogRefused`: BINARY for what csv cannot read."""
    if delimiter == " ":
        return [cells for line in lines if (cells := line.split())]
    try:
        rows = [cells for cells in csv.reader(lines, delimiter=delimiter) if cells]
    except csv.Error as error:
        raise LogRefused(LogProblem.BINARY, value=str(error)) from None
    return [r for r in rows if not _is_blank(r)] if "" in map(itemgetter(0), rows) else rows


def _is_blank(cells: list[str]) -> bool:
    return not cells[0] and not "".join(cells).strip()


def _mended(rows: list[list[str]], heading: tuple[str, ...], delimiter: str) -> list[list[str]]:
    # A decimal comma in a comma-separated file tears a temperature in two: "14:05,75,2". A heading
    # of two names over three cells says so; without one, a lone digit at the end of every row does.
    if delimiter != "," or len(rows[0]) != 3:
        return rows
    if len(heading) == 2:
        return [[*cells[:-2], f"{cells[-2]}.{cells[-1]}"] if len(cells) == 3 else cells for cells in rows]
    bare = not heading and not looks_dated(rows[0][0].strip()) and len(rows) > 2
    if bare and all(len(c) == 3 and len(c[2].strip()) == 1 for c in rows):
        raise LogRefused(LogProblem.DECIMALS_UNCLEAR, value=",".join(rows[0]))
    return rows


def columns_of(table: Table, wanted: int | None = None) -> Columns:
    """Find the columns by what stands in the first row of readings and what the heading calls them.

    `wanted` is a person's choice among the columns that may hold temperatures, counted from 0.
    Raises `LogRefused`: NO_TIME_COLUMN or NO_TEMPERATURE_COLUMN.
    """
    first = [cell.strip() for cell in table.first]
    names = table.heading if len(table.heading) == len(first) else ("",) * len(first)
    dated = [i for i, cell in enumerate(first) if looks_dated(cell)]
    clocks = [i for i, cell in enumerate(first) if looks_clock(cell)]
    numbers = [i for i, cell in enumerate(first) if NUMBER.match(cell) and i not in dated + clocks]
    date_column: int | None = None
    if dated and ":" in first[dated[0]]:
        time_column = dated[0]
    elif clocks:
        time_column = clocks[0]
        date_column = dated[0] if dated else None
    else:
        named = [i for i in numbers if TIME.search(names[i]) and not TEMPERATURE.search(names[i])]
        if len(numbers) < 2:
            raise LogRefused(LogProblem.NO_TIME_COLUMN, value=" ".join(first), line=table.line_of(0))
        time_column = named[0] if named else numbers[0]
    rest = [i for i in numbers if i != time_column]
    marks = (IN_JUICE, TEMPERATURE, CELSIUS, FAHRENHEIT)
    named = [i for i in rest if any(mark.search(names[i]) for mark in marks)]
    # A bath is hotter than the juice in it: where the heading tells them apart, the juice counts.
    named.sort(key=lambda i: (IN_JUICE.search(names[i]) is None, i))
    after = [i for i in rest if i > time_column]
    candidates = [*named, *(i for i in after if i not in named)] or rest
    if not candidates:
        problem = LogProblem.NO_TEMPERATURE_COLUMN
        raise LogRefused(problem, value=" ".join(first), line=table.line_of(0))
    chosen = wanted if wanted in rest else candidates[0]
    others = tuple(i for i in candidates if i != chosen)
    return Columns(date=date_column, time=time_column, temperature=chosen, others=others)


def time_form_of(name: str) -> TimeForm | None:
    """Return the unit of elapsed time that a heading names, if it names one."""
    for marks, form in (
        (IN_MINUTES, TimeForm.MINUTES),
        (IN_SECONDS, TimeForm.SECONDS),
        (IN_HOURS, TimeForm.HOURS),
    ):
        if marks.search(name):
            return form
    return None
