"""Every change to the policy: its usual rows, rows that are added, changed, switched off and on, and the way back."""

from collections.abc import Iterable, Mapping
from datetime import datetime, time
from typing import Any, Final, TypedDict

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change
from kitshare.people.models import Member, Scheme
from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.refusals import (
    HoursNotSensible,
    NotForThese,
    OneIsEnough,
    RowTwice,
    StaysOn,
    TimeMissing,
    TooFarFromItsDay,
)
from kitshare.reminders.terms import TERMS
from kitshare.reminders.usual import USUAL, usual_values
from kitshare.reminders.words import in_words

CHANGES: Final = ("reminder_added", "reminder_changed", "reminder_switched", "reminders_as_usual")


class Said(TypedDict):
    """What a row says."""

    addressed: str
    days: int | None
    at: time | None
    hours: int | None
    by: str


def all_rows(*, at: datetime) -> list[ReminderRow]:
    """Every row, on or off. Where a scheme has none yet, the usual ones are written down first. One query."""
    rows = list(ReminderRow.objects.in_order())
    if USUAL.keys() - {row.usual for row in rows}:
        settle_usual(at=at)
        rows = list(ReminderRow.objects.in_order())
    return rows


def rows_in_force(*, at: datetime) -> list[ReminderRow]:
    """The rows that are on."""
    return [row for row in all_rows(at=at) if row.is_on]


def differs_from_usual(rows: Iterable[ReminderRow]) -> list[ReminderRow]:
    """The rows that were added, and the usual ones that were changed."""
    return [row for row in rows if row.usual not in USUAL or _differs(row, usual_values(row.usual))]


@deed
def settle_usual(*, at: datetime) -> int:
    """Write down those of the usual rows that are not there: all of them in a new scheme; how many those were.

    What a coordinator changed stays as it is. Where a row of their own says the same already, theirs stands.
    """
    Scheme.objects.select_for_update().first()
    there = set(ReminderRow.objects.exclude(usual=None).values_list("usual", flat=True))
    missing = [slug for slug in USUAL if slug not in there]
    before = len(there)
    ReminderRow.objects.bulk_create(
        [ReminderRow(usual=slug, **usual_values(slug)) for slug in missing], ignore_conflicts=True
    )
    added = ReminderRow.objects.exclude(usual=None).count() - before
    if added:
        text = _("Wrote down the usual reminders: which go to whom, and when.")
        logbook.write(deed="reminders_settled", text=text, about=[], by=None, at=at)
    return added


@deed
def add_row(*, kind: str, said: Said, by: Member, at: datetime) -> ReminderRow:
    """Remind of something once more."""
    if not TERMS[kind].may_be_several:
        raise OneIsEnough
    row = ReminderRow(kind=kind, **said)
    check_row(row)
    _save(row)
    _write("reminder_added", _("Added the reminder “%(name)s”: %(row)s."), row, by=by, at=at)
    return row


@deed
def change_row(*, row: ReminderRow, said: Said, by: Member, at: datetime, seen: int | None = None) -> ReminderRow:
    """Change when a reminder goes, to whom and by which channel. What was told already is not told again by it."""
    row = ReminderRow.objects.select_for_update().get(pk=row.pk)
    before = in_words(row)
    if not change(row, **said):
        return row
    logbook.check_unchanged(row, seen=seen, by_deeds=CHANGES)
    check_row(row)
    _save(row)
    text = _("Changed the reminder “%(name)s”: %(before)s → %(row)s.")
    _write("reminder_changed", text, row, by=by, at=at, before=before)
    return row


@deed
def switch_row(*, row: ReminderRow, is_on: bool, by: Member, at: datetime) -> ReminderRow:
    """Switch a reminder on or off. Twice is once."""
    row = ReminderRow.objects.select_for_update().get(pk=row.pk)
    if row.is_on == is_on:
        return row
    if row.stays_on:
        raise StaysOn
    row.is_on = is_on
    row.save(update_fields=["is_on"])
    text = _("Switched off the reminder “%(name)s”: %(row)s.")
    if is_on:
        text = _("Switched on the reminder “%(name)s”: %(row)s.")
    _write("reminder_switched", text, row, by=by, at=at)
    return row


@deed
def back_to_usual(*, by: Member, at: datetime) -> int:
    """Take away the rows that were added, and make anew those of the usual ones that were changed; how many those were.

    A usual row goes by its name in the outbox, so that nothing told is told again by the new one.
    """
    Scheme.objects.select_for_update().first()
    rows = list(ReminderRow.objects.select_for_update().order_by("pk"))
    gone = differs_from_usual(rows)
    if not gone:
        return 0
    text = _("Put the reminders back to the usual ones, in the place of: %(rows)s.")
    said = "; ".join(f"{row.get_kind_display()}: {in_words(row)}" for row in gone)
    logbook.write(deed="reminders_as_usual", text=text % {"rows": said}, about=gone, by=by, at=at)
    ReminderRow.objects.filter(pk__in=[row.pk for row in gone]).delete()
    settle_usual(at=at)
    return len(gone)


def _differs(row: ReminderRow, values: Mapping[str, Any]) -> bool:
    return any(getattr(row, name) != value for name, value in values.items())


def check_row(row: ReminderRow) -> None:
    """Raise PolicyRefused where a row cannot say this."""
    terms = TERMS[row.kind]
    if row.addressed not in terms.to:
        raise NotForThese
    if terms.goes_by_days:
        if row.days is None or not terms.least <= row.days <= terms.most:
            raise TooFarFromItsDay(terms.least, terms.most)
        if row.at is None:
            raise TimeMissing
    elif terms.goes_by_hours and not 1 <= (row.hours or 0) <= terms.hours:
        raise HoursNotSensible(terms.hours)
    alike = ReminderRow.objects.filter(kind=row.kind, addressed=row.addressed, days=row.days, hours=row.hours)
    if alike.exclude(pk=row.pk).exists():
        raise RowTwice(row)


def _save(row: ReminderRow) -> None:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise RowTwice(row) from None


def _write(deed_word: str, text: str, row: ReminderRow, *, by: Member, at: datetime, before: str = "") -> None:
    words = {"name": Kind(row.kind).label, "row": in_words(row), "before": before}
    logbook.write(deed=deed_word, text=text % words, about=[row], by=by, at=at)
