"""What a file of bookings comes to before anybody asks the database: rows, and what is wrong with them.

Reading knows no village and no machine. It gives words and days; `judging` says what they mean here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, time
from decimal import Decimal
from typing import Any, Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

MOST_BYTES: Final = 2_000_000
MOST_ROWS: Final = 2_000
MOST_LINES: Final = 100_000  # of a text, so that a file of nothing but ends of lines costs no time

# The columns in the order of our own files. A word that is no heading of ours is left aside and said.
HEADINGS: Final[Mapping[str, Promise]] = {
    "reference": gettext_lazy("Reference"),
    "village": gettext_lazy("Village"),
    "borrower": gettext_lazy("Who signs"),
    "machines": gettext_lazy("Machines"),
    "out_on": gettext_lazy("Goes out on"),
    "out_time": gettext_lazy("Collected at"),
    "back_on": gettext_lazy("Back by the morning of"),
    "back_time": gettext_lazy("Brought back at"),
    "fruit_amount": gettext_lazy("Fruit"),
    "fruit_unit": gettext_lazy("Measured in"),
    "stage": gettext_lazy("Stage"),
    "relay_from": gettext_lazy("Takes over from"),
    "carried_by": gettext_lazy("Who carries it"),
    "meet_at": gettext_lazy("Where they meet"),
    "note": gettext_lazy("Note"),
    "reason": gettext_lazy("Reason"),
}
NEEDED: Final = ("village", "machines", "out_on", "back_on")
LONGEST: Final = {
    "reference": 500,
    "village": 200,
    "borrower": 300,
    "relay_from": 500,
    "carried_by": 120,
    "meet_at": 200,
    "note": 2000,
    "reason": 1000,
}


class FileRefused(Exception):
    """A file that cannot be read at all: a sentence that says why, on which line if there is one, and what to do."""

    def __init__(self, sentence: str, line: int | None = None) -> None:
        super().__init__(_("Line %(line)d: %(why)s") % {"line": line, "why": sentence} if line else sentence)
        self.line = line


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One booking as it stands in a file. `place` is its line, or its row in a workbook."""

    place: int
    reference: str = ""
    village: str = ""
    borrower: str = ""
    machines: tuple[str, ...] = ()
    said: str = ""  # the text of a calendar entry that somebody else wrote: names are looked for in it
    out_on: date | None = None
    out_time: time | None = None
    back_on: date | None = None
    back_time: time | None = None
    fruit_amount: Decimal | None = None
    fruit_unit: str = "kg"
    stage: str = ""
    relay_from: str = ""  # the reference of the booking whose village hands the machines straight to this one
    carried_by: str = ""
    meet_at: str = ""
    note: str = ""
    reason: str = ""
    aside: str = ""  # why nothing is made of it, though nothing is wrong with it
    problems: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    def with_problem(self, sentence: str) -> "Row":
        return replace(self, problems=(*self.problems, sentence))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything that was read from one file."""

    rows: Sequence[Row]
    remarks: tuple[str, ...] = ()


def as_plain(row: Row) -> dict[str, Any]:
    """The row as JSON can hold it; what is as it is by default is left out."""
    full = asdict(row)
    empty = asdict(Row(place=row.place))
    kept = {name: value for name, value in full.items() if name == "place" or value != empty[name]}
    return {name: str(value) if isinstance(value, date | time | Decimal) else value for name, value in kept.items()}


def from_plain(kept: Mapping[str, Any]) -> Row:
    """The row that `as_plain` took."""
    facts = dict(kept)
    for name in ("out_on", "back_on"):
        if name in facts:
            facts[name] = date.fromisoformat(facts[name])
    for name in ("out_time", "back_time"):
        if name in facts:
            facts[name] = time.fromisoformat(facts[name])
    if "fruit_amount" in facts:
        facts["fruit_amount"] = Decimal(facts["fruit_amount"])
    for name in ("machines", "problems", "remarks"):
        facts[name] = tuple(facts.get(name, ()))
    return Row(**facts)
