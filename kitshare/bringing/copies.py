"""Bookings as files: a calendar, a CSV and a workbook. Each, brought in again, gives the same bookings."""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, time
from decimal import Decimal
from typing import Any, Final

from django.utils.text import slugify
from django.utils.translation import gettext as _
from icalendar import Event
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from kitshare.bookings import calendars
from kitshare.bookings.calendars import Text, one_line, plain
from kitshare.bookings.models import Booking, BookingQuerySet, FruitUnitChoice, Season, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bringing.cells import neutral, write_names
from kitshare.bringing.diary import OURS, RELAY
from kitshare.bringing.naming import Names
from kitshare.bringing.rows import HEADINGS
from kitshare.people.models import Scheme

KINDS: Final[Mapping[str, str]] = {
    "ics": "text/calendar; charset=utf-8",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
WIDTHS: Final = (40, 24, 24, 48, 14, 12, 14, 12, 10, 12, 12, 20, 20, 24, 48, 32)


def facts_of(booking: Booking, names: Names) -> dict[str, str]:
    """What a booking's row says, by column: all of it text, as a person reads it."""
    return {
        "reference": str(booking.uid),
        "village": one_line(booking.village.name),
        "borrower": one_line(names.of_borrower(booking)),
        "machines": write_names(one_line(names.of_machine(machine)) for machine in booking.machines.all()),
        "out_on": booking.out_on.isoformat(),
        "out_time": time_of(booking.out_time),
        "back_on": booking.back_on.isoformat(),
        "back_time": time_of(booking.back_time),
        "fruit_amount": amount_of(booking.fruit_amount),
        "fruit_unit": str(FruitUnitChoice(booking.fruit_unit).label),
        "stage": str(Stage(booking.stage).label),
        **_relay_of(booking),
        "note": plain(booking.note).strip(),
        "reason": plain(booking.reason).strip(),
    }


def time_of(at: time) -> str:
    return f"{at:%H:%M:%S}" if at.second else f"{at:%H:%M}"


def _relay_of(booking: Booking) -> dict[str, str]:
    """From whom it takes the machines straight, if it does."""
    relay: Relay | None = getattr(booking, "relay_from", None)
    if relay is None:
        return dict.fromkeys(("relay_from", "carried_by", "meet_at"), "")
    said = {"carried_by": one_line(relay.carried_by), "meet_at": one_line(relay.meet_at)}
    return {"relay_from": str(relay.first.uid), **said}


def amount_of(amount: Decimal) -> str:
    return f"{amount.normalize():f}"


def as_csv(bookings: Iterable[Booking], names: Names) -> bytes:
    """With the mark of UTF-8 in front: without it some spreadsheets read accents wrongly."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([str(heading) for heading in HEADINGS.values()])
    writer.writerows([neutral(cell) for cell in facts_of(booking, names).values()] for booking in bookings)
    return text.getvalue().encode("utf-8-sig")


def as_workbook(bookings: Iterable[Booking], names: Names) -> bytes:
    """Days as days and amounts as numbers, so that a spreadsheet can sort them; everything else is text."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(_("Bookings"))
    sheet.freeze_panes = "A2"
    for number, width in enumerate(WIDTHS, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.append([_text_cell(sheet, str(heading), bold=True) for heading in HEADINGS.values()])
    for booking in bookings:
        facts = facts_of(booking, names)
        cells: dict[str, Any] = {name: _text_cell(sheet, neutral(text)) for name, text in facts.items() if text}
        cells |= {"out_on": booking.out_on, "back_on": booking.back_on, "fruit_amount": booking.fruit_amount}
        sheet.append([cells.get(name) for name in HEADINGS])
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def as_calendar(bookings: Iterable[Booking], names: Names) -> bytes:
    """Whole days, as in the feeds, with what a calendar has no place for in properties of our own."""
    calendar = bytes(calendars.new_calendar().to_ical()).removesuffix(calendars.CLOSING)
    return calendar + b"".join(_events(bookings, names)) + calendars.CLOSING


def _events(bookings: Iterable[Booking], names: Names) -> Iterator[bytes]:
    for booking in bookings:
        entry: Event = calendars.event(booking, list(booking.machines.all()))
        facts = facts_of(booking, names)
        own = {name: facts[name.lower()] for name in ("VILLAGE", "BORROWER", "MACHINES", "STAGE", "NOTE", "REASON")}
        own |= {name: facts[name.lower().replace("-", "_")] for name in RELAY}
        own |= {"OUT-TIME": facts["out_time"], "BACK-TIME": facts["back_time"]}
        own["FRUIT"] = f"{facts['fruit_amount']} {booking.fruit_unit}"
        for name, text in own.items():
            if text:
                entry.add(OURS + name, Text(text))
        yield entry.to_ical()


def _text_cell(sheet: Any, text: str, *, bold: bool = False) -> Any:
    cell = WriteOnlyCell(sheet, value=text)
    cell.data_type = "s"  # whatever it begins with
    if bold:
        cell.font = Font(bold=True)
    return cell


WRITERS: Final = {"ics": as_calendar, "csv": as_csv, "xlsx": as_workbook}


def to_copy(season: Season | None) -> BookingQuerySet:
    """The bookings of a season, or all there are, in the order of their days.

    Who waits has nothing yet that could be copied: a place in an order is a place on this site's list.
    """
    found = Booking.objects.exclude(stage=Stage.WAITING)
    if season is not None:
        found = found.filter(out_on__range=(season.opens_on, season.closes_on))
    with_relays: BookingQuerySet = found.with_people().select_related("relay_from__first")  # type: ignore[misc]
    return with_relays.order_by("out_on", "pk")


def file_name(season: Season | None, scheme: Scheme, today: date, kind: str) -> str:
    return f"{slugify(season.name if season else scheme.name) or 'bookings'}-{today:%Y-%m-%d}.{kind}"
