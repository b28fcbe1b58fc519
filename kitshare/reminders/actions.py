"""Fills the outbox with what the day brings. It keeps no table: what was told stands in the outbox.

Each reminder has a key, so that any number of rounds tell once; a round that did not run is made up for by the next.
"""

from dataclasses import dataclass
from datetime import datetime

from kitshare.bookings import lapsing, offers
from kitshare.bringing import actions as bringing
from kitshare.checks import rounds, sweeping
from kitshare.engine import deed
from kitshare.outbox import actions as outbox
from kitshare.people.models import Scheme
from kitshare.pressdays import heat_drafts
from kitshare.reminders.care_due import care_falling_due
from kitshare.reminders.due import FROM_HOUR, letters_due
from kitshare.reminders.letters import Letter
from kitshare.reminders.running_out import offers_running_out


@dataclass(frozen=True, slots=True)
class Round:
    """What one round of due work did."""

    written: int
    sent: int
    failed: int


def tick(*, at: datetime) -> Round:
    """Do all due work once: look after the waiting list, write reminders, forget old files and logs, then send.

    What fails holds up nothing that comes after it.
    """
    written = 0
    try:
        try:
            see_to_what_is_over(at=at)
            offers.settle(at=at)
        finally:
            written = write_due_reminders(at=at)
            bringing.sweep(at=at)
            heat_drafts.sweep(at=at)
    finally:
        delivered = outbox.deliver_due(at=at)
    return Round(written=written, sent=delivered.sent, failed=delivered.failed)


def see_to_what_is_over(*, at: datetime) -> None:
    """End bookings that nobody answered, judge sheets that were left over, sweep photos that nobody signed with."""
    scheme = Scheme.objects.current()
    local = at.astimezone(scheme.zone) if scheme else at
    if local.hour >= FROM_HOUR:
        for booking in lapsing.unanswered(local.date()):
            lapsing.end_unanswered(booking=booking, at=at, today=local.date())
    rounds.see_to_sheets(at=at)
    sweeping.sweep_photos(at=at)


def write_due_reminders(*, at: datetime) -> int:
    """Put every reminder that is due and not yet told into the outbox; how many those were."""
    scheme = Scheme.objects.current()
    found = (letters_due, offers_running_out, care_falling_due)
    letters = [one for find in found for one in find(scheme=scheme, at=at)] if scheme else []
    return _queue_all(letters=letters, at=at) if letters else 0


@deed
def _queue_all(*, letters: list[Letter], at: datetime) -> int:
    """All or none: whether somebody was warned is read from the outbox, so that half a round would mislead the next."""
    kept = [
        outbox.queue(
            key=one.key,
            to=one.to,
            subject=one.subject,
            body=one.body,
            thread=one.thread,
            at=at,
            is_safety=one.is_safety,
        )
        for one in letters
    ]
    return sum(message is not None for message in kept)
