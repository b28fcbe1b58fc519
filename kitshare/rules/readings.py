"""Read a log of temperatures from whatever a person typed, pasted or uploaded, without guessing.

Delimiter, decimal comma, clock, unit and column are found and told, so that a page can show them
before anything is saved. What cannot be told is refused with its line, or asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from kitshare.rules import readings_clock as clock
from kitshare.rules.heat import HeatLog
from kitshare.rules.readings_clock import TimeForm, Times
from kitshare.rules.readings_refusals import LogProblem, LogRefused, UnitUnknown
from kitshare.rules.readings_table import (
    CELSIUS,
    FAHRENHEIT,
    PLAIN_NUMBER,
    Columns,
    Table,
    columns_of,
    decoded,
    table_of,
    time_form_of,
)
from kitshare.rules.units import to_celsius, to_fahrenheit

__all__ = [
    "Found",
    "LogProblem",
    "LogRefused",
    "ReadLog",
    "TemperatureUnit",
    "TimeForm",
    "UnitUnknown",
    "read_log",
    "thinned",
]

LOWEST_C, HIGHEST_C = -20.0, 120.0
"""Nothing in a pressing yard is colder or hotter; -40 and 300 are what a broken lead reads."""

HIGHEST_UNMARKED_C = 95.0
"""Unmarked numbers over this may be Fahrenheit: 160 F is a usual heat for juice, 160 C is none."""


class TemperatureUnit(StrEnum):
    """TemperatureUnit of temperature."""

    CELSIUS = "C"
    FAHRENHEIT = "F"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """How the text was understood, for a person to look over before it counts.

    `unit_marked` is False where Celsius was taken for want of any sign; `time_assumed` likewise for
    minutes. `column` is the heading of the temperature column and `other_columns` those passed by;
    `places` are where they stand, counted from 0, the one that was taken first.
    """

    delimiter: str
    decimal_comma: bool
    unit: TemperatureUnit
    unit_marked: bool
    time_form: TimeForm
    time_assumed: bool
    column: str
    other_columns: tuple[str, ...]
    places: tuple[int, ...]
    rows: int
    repeated: int
    midnights: int
    clock_changes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadLog:
    """A log in minutes from its first reading and degrees Celsius, and how it was read."""

    log: HeatLog
    found: Found


def read_log(
    data: bytes | str,
    *,
    unit: TemperatureUnit | None = None,
    time_form: TimeForm | None = None,
    column: int | None = None,
) -> ReadLog:
    """Read a log of one probe. `unit`, `time_form` and `column` (one of `Found.places`) are a
    person's answers, and go before any mark.

    Stamps that repeat are folded into one with the coldest reading; midnight and one autumn change
    of clocks are seen through; other steps backwards are refused. Raises `LogRefused` with the
    line, `UnitUnknown` where Celsius and Fahrenheit are both possible.
    """
    table = table_of(decoded(data))
    columns = columns_of(table, column)
    try:
        values, comma = _numbers(table, columns.temperature)
        times = _times(table, columns, time_form)
        marked = unit or _marked_unit(table, columns)
        chosen = marked or _unmarked_unit(values)
        _require_bounds(table, columns, values, chosen)
        celsius = values if chosen is TemperatureUnit.CELSIUS else list(map(to_celsius, values))
    except LogRefused as refused:
        if refused.line is None and refused.row is not None:
            refused.line = table.line_of(refused.row)
        raise
    minutes, celsius, repeated = clock.merged(times.minutes, celsius)
    origin = minutes[0]
    found = Found(
        delimiter=table.delimiter,
        decimal_comma=comma,
        unit=chosen,
        unit_marked=marked is not None,
        time_form=times.form,
        time_assumed=times.assumed,
        column=_name(table, columns.temperature),
        other_columns=tuple(_name(table, i) for i in columns.others),
        places=(columns.temperature, *columns.others),
        rows=table.count,
        repeated=repeated,
        midnights=times.midnights,
        clock_changes=times.clock_changes,
    )
    return ReadLog(log=HeatLog(minutes=tuple([m - origin for m in minutes]), celsius=tuple(celsius)), found=found)


def thinned(heat_log: HeatLog, *, most: int) -> HeatLog:
    """At most `most` readings (four or more) that keep the ends and the extremes, for drawing only.

    Of every run of readings the coldest and the hottest stay, so that no dip is drawn away.
    """
    count = len(heat_log.minutes)
    if count <= max(most, 4):
        return heat_log
    runs = max((most - 2) // 2, 1)
    kept = {0, count - 1}
    for run in range(runs):
        span = range(run * count // runs, (run + 1) * count // runs)
        kept |= {
            min(span, key=heat_log.celsius.__getitem__),
            max(span, key=heat_log.celsius.__getitem__),
        }
    order = sorted(kept)
    return HeatLog(
        minutes=tuple(heat_log.minutes[i] for i in order),
        celsius=tuple(heat_log.celsius[i] for i in order),
    )


def _name(table: Table, column: int) -> str:
    return table.heading[column] if column < len(table.heading) else ""


def _numbers(table: Table, column: int) -> tuple[list[float], bool]:
    """Return the numbers of a column, and whether they have a decimal comma."""
    cells = table.column(column)
    values = _plain_floats(cells) if not table.underscored else None
    if values is not None:
        return values, False
    joined = "\n".join(cells)
    if "," in joined and not table.underscored:
        values = _plain_floats(joined.replace(",", ".").split("\n"))
        if values is not None and len(values) == len(cells):
            return values, True
    return [_number(cell, row) for row, cell in enumerate(cells)], "," in joined


def _plain_floats(cells: Sequence[str]) -> list[float] | None:
    try:
        values = list(map(float, cells))
    except ValueError:
        return None
    return values if all(map(isfinite, values)) else None


def _number(cell: str, row: int) -> float:
    bare = cell.strip().rstrip("CFcf").rstrip().rstrip("°º").rstrip()
    if not PLAIN_NUMBER.match(bare):
        raise LogRefused(LogProblem.BAD_TEMPERATURE, value=cell, row=row)
    return float(bare.replace(",", "."))


def _times(table: Table, columns: Columns, given: TimeForm | None) -> Times:
    first = table.first[columns.time].strip()
    if columns.date is None and not clock.looks_dated(first) and not clock.looks_clock(first):
        return _elapsed(table, columns, given)
    cells = list(map(str.strip, table.column(columns.time)))
    if not all(cells):
        raise LogRefused(LogProblem.BAD_TIME, row=cells.index(""))
    if columns.date is not None:
        dates = list(map(str.strip, table.column(columns.date)))
        return clock.from_date_and_clock(dates, cells)
    return clock.from_dated(cells) if clock.looks_dated(first) else clock.from_clock(cells)


def _elapsed(table: Table, columns: Columns, given: TimeForm | None) -> Times:
    try:
        values, _ = _numbers(table, columns.time)
    except LogRefused as refused:
        raise LogRefused(LogProblem.BAD_TIME, value=refused.value, row=refused.row) from None
    return clock.from_numbers(values, given or time_form_of(_name(table, columns.time)))


def _marked_unit(table: Table, columns: Columns) -> TemperatureUnit | None:
    """Return the unit that the heading, the cells or the lines above name; None where none or both
    do.
    """
    column = columns.temperature
    cells = (table.first[column].strip(), table.last[column].strip())
    for texts in (cells, (_name(table, column),), table.preamble, tuple(table.first)):
        fahrenheit = any(FAHRENHEIT.search(text) for text in texts)
        celsius = any(CELSIUS.search(text) for text in texts)
        if fahrenheit != celsius:
            return TemperatureUnit.FAHRENHEIT if fahrenheit else TemperatureUnit.CELSIUS
        if fahrenheit and celsius:
            return None
    return None


def _unmarked_unit(values: Sequence[float]) -> TemperatureUnit:
    if max(values) > to_fahrenheit(HIGHEST_C):
        # Out of bounds in either unit: no question, but a refusal with its line.
        return TemperatureUnit.FAHRENHEIT
    if max(values) > HIGHEST_UNMARKED_C:
        raise UnitUnknown(max(values))
    return TemperatureUnit.CELSIUS


def _require_bounds(table: Table, columns: Columns, values: Sequence[float], unit: TemperatureUnit) -> None:
    lowest, highest = LOWEST_C, HIGHEST_C
    if unit is TemperatureUnit.FAHRENHEIT:
        lowest, highest = to_fahrenheit(lowest), to_fahrenheit(highest)
    if min(values) >= lowest and max(values) <= highest:
        return
    row = next(i for i, value in enumerate(values) if not lowest <= value <= highest)
    raise LogRefused(LogProblem.OUT_OF_BOUNDS, value=table.column(columns.temperature)[row], row=row)
