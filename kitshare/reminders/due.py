"""Works out which rows are due for whom, and not told yet. It only reads."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from kitshare.outbox.models import Message
from kitshare.people.models import Member
from kitshare.reminders import of_bookings, of_care, of_offers, of_seasons
from kitshare.reminders.ground import Ground
from kitshare.reminders.letters import Letter, letter
from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.occasions import Occasion
from kitshare.reminders.of_briefing import briefings
from kitshare.reminders.steps import due_step, moment_for, steps_within
from kitshare.reminders.usual import key_of

Finder = Callable[[Ground], Iterable[Occasion]]

# In the order in which letters of one round are written. What is told at once is in `at_once`.
FINDERS: Final[dict[Kind, Finder]] = {
    Kind.TEST_FIRST: of_bookings.tests_first,
    Kind.BRIEFING: briefings,
    Kind.PICKUP: of_bookings.pickups,
    Kind.BRING: of_bookings.things_to_bring,
    Kind.RELAY: of_bookings.relays,
    Kind.RETURN: of_bookings.returns,
    Kind.OVERDUE: of_bookings.overdue,
    Kind.CLEAN_DOWN: of_bookings.clean_downs,
    Kind.OFFER: of_offers.offers,
    Kind.SERVICE: of_care.services,
    Kind.TEST: of_care.tests,
    Kind.SEASON_OPENS: of_seasons.openings,
    Kind.SEASON_CLOSES: of_seasons.closings,
    Kind.LAY_UP: of_seasons.lay_ups,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One row about one thing, for one person, at a moment."""

    row: ReminderRow
    occasion: Occasion
    to: Member
    goes_at: datetime

    @property
    def key(self) -> str:
        return f"{key_of(self.row, self.occasion.about)}:{self.to.pk}"


def due_now(ground: Ground) -> list[Due]:
    """What a round is to tell: of each thing and person the latest step that passed, unless it was told already."""
    found: dict[str, Due] = {}
    for occasion, rows, moments, member in _for_whom(ground):
        if not occasion.since <= ground.last < occasion.until:
            continue
        step = due_step(moments, at=ground.last, zone=ground.zone)
        if step is not None:
            due = Due(row=rows[step], occasion=occasion, to=member, goes_at=moments[step])
            found.setdefault(due.key, due)
    if not found:
        return []
    told = _told(found.values())
    return [due for key, due in found.items() if key not in told]


def due_within(ground: Ground) -> list[Due]:
    """What rounds would have told from `first` to before `last`, or would tell: the soonest first, each once."""
    found: dict[str, Due] = {}
    for occasion, rows, moments, member in _for_whom(ground):
        span = {"since": occasion.since, "until": occasion.until, "first": ground.first, "last": ground.last}
        for step, goes_at in steps_within(moments, zone=ground.zone, **span):
            due = Due(row=rows[step], occasion=occasion, to=member, goes_at=goes_at)
            found.setdefault(due.key, due)
    return sorted(found.values(), key=lambda due: (due.goes_at, due.to.name, due.key))


def write(due: Due, ground: Ground) -> Letter:
    """The letter of a row that is due."""
    occasion = due.occasion
    return letter(
        due.row,
        template=occasion.template,
        key=due.key,
        to=due.to,
        subject=occasion.subject,
        scheme=ground.scheme,
        thread=occasion.thread,
        page=occasion.page,
        words=occasion.words(),
        booking=occasion.booking,
        needed_by=occasion.needed_by,
    )


def _for_whom(ground: Ground) -> Iterator[tuple[Occasion, list[ReminderRow], list[datetime], Member]]:
    """Each thing and each person whom it concerns, with the rows that are for them and when those go."""
    for kind, find in FINDERS.items():
        rows = ground.rows_of(kind)
        for occasion in find(ground) if rows else ():
            moments = {row.pk: _moment(row, occasion, ground) for row in rows}
            theirs: dict[Member, list[ReminderRow]] = {}
            for row in rows:
                for member in ground.people.of(row.addressed, occasion.borrower):
                    theirs.setdefault(member, []).append(row)
            for member, own in theirs.items():
                yield occasion, own, [moments[row.pk] for row in own], member


def _moment(row: ReminderRow, occasion: Occasion, ground: Ground) -> datetime:
    if row.hours is not None:
        return of_offers.moment_of_offer(occasion, row.hours)
    assert row.days is not None  # noqa: S101 - by reminder_row_says_one_time, and its kind is not one of those at once
    return moment_for(occasion.day, row.days, row.hour, ground.zone)


def _told(found: Iterable[Due]) -> set[str]:
    """Which of them need no more be told: they are in the outbox, or somebody is to be rung about the same offer."""
    dues = list(found)
    keys = [due.key for due in dues]
    told = set(Message.objects.filter(key__in=keys).values_list("key", flat=True))
    return told | _told_of_offers([due for due in dues if due.row.kind == Kind.OFFER])


def _told_of_offers(dues: Sequence[Due]) -> set[str]:
    if not dues:
        return set()
    said = {of_offers.said_by(due.occasion.about, due.to.pk): due.key for due in dues}
    to_ring = Message.objects.to_telephone().filter(key__in=said).values_list("key", flat=True)
    return {said[key] for key in to_ring}
