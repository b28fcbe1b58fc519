"""What a page shows of the logbook about one thing."""

from dataclasses import dataclass
from typing import Final

from django.db import models
from django.db.models import Exists, OuterRef

from kitshare.bookings.models import Booking
from kitshare.logbook.models import Entry, Mention
from kitshare.people.models import Member

LINES: Final = 25


@dataclass(frozen=True, slots=True)
class History:
    """A stretch of a thing's history, newest first."""

    entries: list[Entry]
    older: int | None  # the line before which the next stretch begins; None where there is no more
    is_newest: bool


def history_of(thing: models.Model, member: Member, before: str | None = None) -> History:
    """The newest lines about a thing, or those older than the line whose key a page was asked for (`?before=`).

    A borrower does not read here of bookings whose pages are closed to them.
    """
    lines = Entry.objects.about(thing)
    if not (member.coordinates or member.maintains):
        bookings = Mention.objects.filter(entry=OuterRef("pk"), kind=Booking._meta.label_lower)
        lines = lines.exclude(Exists(bookings.exclude(key__in=Booking.objects.visible_to(member).values("pk"))))
    known = before is not None and before.isascii() and before.isdigit() and len(before) < 19
    first = lines.filter(pk=int(before)).first() if before is not None and known else None
    if first is not None:
        lines = lines.before(first)
    found = list(lines[: LINES + 1])
    entries = found[:LINES]
    return History(entries, entries[-1].pk if len(found) > LINES else None, first is None)
