"""Whom a row would have told last week, and whom it will tell in the next: by what rounds go by, and without writing.

Of last week it is asked how things stood then: which bookings were agreed or out, what was not done yet. What comes is
told as things stand now. What is told as soon as it is known cannot be foretold; there it is said what was told.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from kitshare.outbox.models import Channel, Message
from kitshare.people.models import Scheme
from kitshare.reminders.due import FINDERS, Due, due_now, due_within
from kitshare.reminders.ground import Ground
from kitshare.reminders.models import Kind, ReminderRow

WEEK: Final = timedelta(days=7)
MOST_MESSAGES: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One message: to whom, under which subject, and when."""

    name: str
    subject: str
    at: datetime
    member_key: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weeks:
    """The last seven days and the next. `was_told`: the first are messages that went, not ones that would have gone."""

    last: Sequence[Line]
    coming: Sequence[Line]
    now: Sequence[Line]
    was_told: bool
    can_look_ahead: bool

    @property
    def people_last(self) -> int:
        return _people(self.last)

    @property
    def people_coming(self) -> int:
        return _people([*self.now, *self.coming])


def weeks_of(row: ReminderRow, *, scheme: Scheme, others: Iterable[ReminderRow], at: datetime) -> Weeks:
    """Look at a row as it is given, saved or not, as if it were on. `others` are the rows that are on beside it.

    The number of queries does not grow with what there is.
    """
    rows = (row, *(other for other in others if other.kind == row.kind and other.pk != row.pk))
    goes_by_days = row.kind in FINDERS
    was_told = not goes_by_days or row.kind == Kind.TEST_FIRST
    ground = Ground(scheme=scheme, rows=rows, first=at - WEEK, last=at, other_days=True)
    last = _told_of_late(row, at) if was_told else _lines(due_within(ground), row)
    now, coming = _ahead(ground, row, at) if goes_by_days else ((), ())
    return Weeks(last=last, coming=coming, now=now, was_told=was_told, can_look_ahead=goes_by_days)


def _ahead(ground: Ground, row: ReminderRow, at: datetime) -> tuple[list[Line], list[Line]]:
    """What goes with the next round, and what goes later in the week; without what was told already."""
    next_round = due_now(Ground(scheme=ground.scheme, rows=ground.rows, first=at, last=at, people=ground.people))
    known = {due.key for due in next_round}
    week = replace(ground, first=at, last=at + WEEK)
    later = [due for due in due_within(week) if due.key not in known]
    told = set(Message.objects.filter(key__in=[due.key for due in later]).values_list("key", flat=True))
    later = [due for due in later if due.key not in told]
    return _lines([replace(due, goes_at=at) for due in next_round], row), _lines(later, row)


def _lines(dues: Iterable[Due], row: ReminderRow) -> list[Line]:
    return [
        Line(name=due.to.name, subject=due.occasion.subject, at=due.goes_at, member_key=due.to.pk)
        for due in dues
        if due.row is row and (due.to.wants_reminders or row.is_of_safety)
    ]


def _told_of_late(row: ReminderRow, at: datetime) -> list[Line]:
    week = Message.objects.filter(kind=row.kind, queued_at__gte=at - WEEK, queued_at__lt=at)
    found = week.exclude(channel=Channel.UNWANTED).exclude(key__startswith="call:")
    return [
        Line(name=one.to_name, subject=one.subject, at=one.queued_at, member_key=one.member_key)
        for one in found.order_by("queued_at", "pk")[:MOST_MESSAGES]
    ]


def _people(lines: Iterable[Line]) -> int:
    return len({line.member_key for line in lines})
