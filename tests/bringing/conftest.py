"""What tests of bringing in ask for: files as people send them, and a look at them on the first of September 2027."""

import csv
import hashlib
import io
from collections.abc import Iterable
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from kitshare.bringing import actions as bringing
from kitshare.bringing.models import BroughtFile, ComingAs, Telling
from kitshare.bringing.reading import read
from kitshare.bringing.rows import HEADINGS

UTC = ZoneInfo("UTC")


def table(*rows: dict[str, str], headings: Iterable[str] = HEADINGS, delimiter: str = ",") -> bytes:
    """A CSV as the coordinator types it, of rows that name only what differs from the usual one."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter)
    names = list(headings)
    writer.writerow(str(HEADINGS[name]) for name in names)
    writer.writerows([usual(**row)[name] for name in names] for row in rows)
    return text.getvalue().encode()


def usual(**changes: str) -> dict[str, str]:
    """Sorrelhythe has the Heron mill from Sat 11 to Mon 13 September."""
    row = dict.fromkeys(HEADINGS, "") | {
        "village": "Sorrelhythe",
        "machines": "Heron mill",
        "out_on": "2027-09-11",
        "back_on": "2027-09-13",
        "fruit_amount": "400",
        "fruit_unit": "kilograms",
    }
    return row | changes


def diary(*entries: str) -> bytes:
    """An .ics with these entries, each given as its lines."""
    events = "".join(f"BEGIN:VEVENT\n{entry.strip()}\nEND:VEVENT\n" for entry in entries)
    return f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//Paper//EN\n{events}END:VCALENDAR\n".replace("\n", "\r\n").encode()


@pytest.fixture
def sent(perpetua, now):
    """A file that the coordinator has sent, and that waits to be looked at."""

    def sent(data: bytes, *, name: str = "bookings.csv", fruit_kg: str | None = None, **choices) -> BroughtFile:
        terms = {"coming_as": ComingAs.AGREED, "telling": Telling.NOBODY} | choices
        kg = Decimal(fruit_kg) if fruit_kg else None
        sheet = read(data, zone=UTC)
        return bringing.keep(
            name=name, digest=hashlib.sha256(data).hexdigest(), sheet=sheet, fruit_kg=kg, by=perpetua, at=now, **terms
        )

    return sent


@pytest.fixture
def look(sent, scheme, today):
    """What would become of a file's rows: (standing, words) of each."""

    def look(data: bytes, **choices) -> list[tuple[str, str]]:
        judged = bringing.look(sent(data, **choices), scheme=scheme, today=today)
        return [(one.standing.value, " ".join(one.words)) for one in judged.verdicts]

    return look


@pytest.fixture
def bring(sent, perpetua, now, today):
    """Send a file and bring it in."""

    def bring(data: bytes, **choices) -> BroughtFile:
        return bringing.bring_in(brought=sent(data, **choices), by=perpetua, at=now, today=today)

    return bring
