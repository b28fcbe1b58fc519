"""What a table says, be it CSV or a workbook: the headings in its first row, then a booking in each."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import override

from kitshare.bookings.calendars import plain
from kitshare.bringing import cells
from kitshare.bringing.cells import NotUnderstood
from kitshare.bringing.rows import HEADINGS, LONGEST, MOST_ROWS, NEEDED, FileRefused, Row, Sheet

# Other headings that mean the same.
ALIASES: Final[Mapping[str, str]] = {
    "uid": "reference",
    "borrower": "borrower",
    "signs": "borrower",
    "machine": "machines",
    "kit": "machines",
    "out": "out_on",
    "out on": "out_on",
    "back": "back_on",
    "back on": "back_on",
    "back by": "back_on",
    "unit": "fruit_unit",
    "notes": "note",
}


@dataclass(frozen=True, slots=True)
class Formula:
    """A cell that a spreadsheet works out: what it comes to is not in the file for certain."""


Cell = str | date | datetime | time | Decimal | int | float | bool | Formula | None
Line = tuple[int, Sequence[Cell]]  # its line or row, and its cells


def columns_of(heading: Sequence[Cell]) -> dict[str, int]:
    """Which of our columns stands where, by the words of the first row."""
    known = dict(ALIASES)
    for name, label in HEADINGS.items():
        known[str(label).casefold()] = name
        with override("en"):
            known[str(label).casefold()] = name
    found: dict[str, int] = {}
    for place, cell in enumerate(heading):
        name = known.get(" ".join(str(cell or "").casefold().split()), "")
        if name in found:
            raise FileRefused(_("two columns are called “%(heading)s”.") % {"heading": cell}, 1)
        if name:
            found[name] = place
    return found


def read_lines(lines: Iterable[Line], *, remarks: Iterable[str] = ()) -> Sheet:
    """The bookings of a table. Raises FileRefused where its first row has not the columns that are needed."""
    rest = iter(lines)
    place, heading = next(((place, line) for place, line in rest if any(map(_is_filled, line))), (1, ()))
    columns = columns_of(heading)
    missing = [str(HEADINGS[name]) for name in NEEDED if name not in columns]
    if missing:
        sentence = _("the first row must name the columns. Not found: %(missing)s. Begin with our empty table.")
        raise FileRefused(sentence % {"missing": ", ".join(missing)}, place)
    said = [*remarks, *_left_aside(heading, columns)]
    rows: list[Row] = []
    for row in _rows(rest, columns):
        if len(rows) == MOST_ROWS:
            raise FileRefused(_("more than %(most)d bookings. Send it in parts.") % {"most": MOST_ROWS}, row.place)
        rows.append(row)
    return Sheet(rows=rows, remarks=tuple(said))


def _is_filled(cell: Cell) -> bool:
    return cell is not None and (not isinstance(cell, str) or bool(cell.strip()))


def _left_aside(heading: Sequence[Cell], columns: Mapping[str, int]) -> Iterator[str]:
    others = [
        str(cell)[:40] for place, cell in enumerate(heading) if _is_filled(cell) and place not in columns.values()
    ]
    if others:
        yield _("Columns left aside: %(columns)s") % {"columns": ", ".join(others[:10])}


def _rows(lines: Iterable[Line], columns: Mapping[str, int]) -> Iterator[Row]:
    for place, line in lines:
        given = {name: line[column] if column < len(line) else None for name, column in columns.items()}
        if any(map(_is_filled, given.values())):
            yield _row(place, given)


class _Reader:
    """Reads the cells of one row, and gathers what is wrong with them."""

    def __init__(self, given: Mapping[str, Cell]) -> None:
        self.given = given
        self.problems: list[str] = []

    def read(self, name: str, understand: Any, nothing: Any) -> Any:
        cell = self.given.get(name)
        if isinstance(cell, str):
            cell = cells.as_meant(plain(cell).strip())
        if not _is_filled(cell):
            return nothing
        try:
            if isinstance(cell, Formula):
                raise NotUnderstood(_("a formula. Type the value itself."))
            return understand(cell)
        except NotUnderstood as problem:
            words = {"heading": HEADINGS[name], "problem": problem}
            self.problems.append(_("%(heading)s: %(problem)s") % words)
            return nothing

    def words(self, name: str) -> str:
        text: str = self.read(name, _text, "")
        if len(text) > LONGEST[name]:
            words = {"heading": HEADINGS[name], "most": LONGEST[name]}
            self.problems.append(_("%(heading)s: longer than %(most)d letters.") % words)
            return ""
        return text


def _row(place: int, given: Mapping[str, Cell]) -> Row:
    reader = _Reader(given)
    amount, unit = reader.read("fruit_amount", _amount, (None, ""))
    own_unit = reader.read("fruit_unit", lambda cell: cells.read_unit(_text(cell)), "")
    facts: dict[str, Any] = {
        "reference": reader.words("reference"),
        "village": reader.words("village"),
        "borrower": reader.words("borrower"),
        "machines": reader.read("machines", lambda cell: cells.read_names(_text(cell)), ()),
        "out_on": reader.read("out_on", _day, None),
        "out_time": reader.read("out_time", _time, None),
        "back_on": reader.read("back_on", _day, None),
        "back_time": reader.read("back_time", _time, None),
        "stage": reader.read("stage", lambda cell: cells.read_stage(_text(cell)), ""),
        **{name: reader.words(name) for name in ("relay_from", "carried_by", "meet_at", "note", "reason")},
    }
    if unit and own_unit and unit != own_unit:
        reader.problems.append(_("Two units for one amount of fruit."))
    return Row(
        place=place,
        fruit_amount=amount,
        fruit_unit=own_unit or unit or "kg",
        problems=tuple(reader.problems),
        **facts,
    )


def _text(cell: Cell) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _day(cell: Cell) -> date:
    if isinstance(cell, datetime):
        if cell.time() != time(0):
            raise NotUnderstood(_("“%(text)s” is a moment: give the day alone.") % {"text": f"{cell:%Y-%m-%d %H:%M}"})
        return cells.check_year(cell.date())
    if isinstance(cell, date):
        return cells.check_year(cell)
    if isinstance(cell, str):
        return cells.check_year(cells.read_day(cell))
    raise NotUnderstood(_("“%(text)s” is a bare number: give the column the form of a date.") % {"text": _text(cell)})


def _time(cell: Cell) -> time:
    return cell.replace(microsecond=0) if isinstance(cell, time) else cells.read_time(_text(cell))


def _amount(cell: Cell) -> tuple[Decimal, str]:
    if isinstance(cell, bool) or not isinstance(cell, int | float | str):
        raise NotUnderstood(_("“%(text)s” is no amount: write 1200 or 12.5.") % {"text": cell})
    return cells.read_amount(cell) if isinstance(cell, str) else (_number(cell), "")


def _number(cell: float) -> Decimal:
    """A number of a workbook is binary: 12.3 is what its owner typed, not what its bits say."""
    if not 0 <= cell < 10**9:
        raise NotUnderstood(_("“%(text)s” is no amount: write 1200 or 12.5.") % {"text": cell})
    return Decimal(repr(round(cell, 3)))
