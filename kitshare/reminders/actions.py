"""Fills the outbox with what the day brings, by the rows of the policy. What was told stands in the outbox alone.

Each reminder has a key, so that any number of rounds tell once; a round that did not run is made up for by the next.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from kitshare.bookings import lapsing, offers
from kitshare.bringing import actions as bringing
from kitshare.checks import rounds, sweeping
from kitshare.engine import deed
from kitshare.outbox import actions as outbox
from kitshare.outbox import digests
from kitshare.outbox.channels.way import Addressee
from kitshare.outbox.speaking import in_each_language
from kitshare.people import missed_calls
from kitshare.people.models import Scheme
from kitshare.pressdays import heat_drafts
from kitshare.reminders import policy
from kitshare.reminders.at_once import told_at_once
from kitshare.reminders.due import due_now, write
from kitshare.reminders.ground import Ground
from kitshare.reminders.letters import Letter
from kitshare.reminders.models import By
from kitshare.reminders.steps import MORNING
from kitshare.rules.hearing import Wishes
from kitshare.works import actions as works


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
            works.sweep(at=at)
    finally:
        delivered = outbox.deliver_due(at=at)
    return Round(written=written, sent=delivered.sent, failed=delivered.failed)


def see_to_what_is_over(*, at: datetime) -> None:
    """End bookings that nobody answered, judge sheets and sweep photos that were left over, see to the post."""
    scheme = Scheme.objects.current()
    local = at.astimezone(scheme.zone) if scheme else at
    if local.time() >= MORNING:
        for booking in lapsing.unanswered(local.date()):
            lapsing.end_unanswered(booking=booking, at=at, today=local.date())
    rounds.see_to_sheets(at=at)
    digests.gather_all(at=at)
    missed_calls.tell_of_missed(at=at)
    sweeping.sweep_photos(at=at)


def write_due_reminders(*, at: datetime) -> int:
    """Put every reminder that is due and not yet told into the outbox; how many those were.

    Warnings first, by themselves: a letter that cannot be written keeps none of them back.
    """
    return sum(_write_due_reminders(at=at))


@in_each_language
def _write_due_reminders(*, at: datetime) -> int:
    scheme = Scheme.objects.current()
    if scheme is None:
        return 0
    ground = Ground(scheme=scheme, rows=tuple(policy.rows_in_force(at=at)), first=at, last=at)
    warned = _queue_all(letters=told_at_once(ground), at=at)
    return warned + _queue_all(letters=[write(due, ground) for due in due_now(ground)], at=at)


def _queue_all(*, letters: list[Letter], at: datetime) -> int:
    return _queue(letters=letters, at=at) if letters else 0


@deed
def _queue(*, letters: list[Letter], at: datetime) -> int:
    """All or none: whether somebody was warned is read from the outbox, so that half a round would mislead the next."""
    kept = [
        outbox.queue(
            key=key,
            to=to,
            subject=one.subject,
            body=one.body,
            thread=one.thread,
            kind=one.kind,
            is_safety=one.is_safety,
            needed_by=one.needed_by,
            at=at,
        )
        for one in letters
        for key, to in ways(one)
    ]
    return sum(message is not None for message in kept)


@dataclass(slots=True)
class OnTheTelephone:
    """Somebody who is to be rung, whether they have an e-mail address or not."""

    pk: int
    name: str
    telephone: str
    wishes: Callable[[], Wishes]
    email: str | None = None


def ways(letter: Letter) -> list[tuple[str, Addressee]]:
    """By which ways a letter goes to its person, each under a key of its own."""
    by_telephone = OnTheTelephone(
        pk=letter.to.pk, name=letter.to.name, telephone=letter.to.telephone, wishes=letter.to.wishes
    )
    if letter.by == By.CALL:
        return [(letter.key, by_telephone)]
    if letter.by == By.BOTH and letter.to.email:
        return [(letter.key, letter.to), (f"call:{letter.key}", by_telephone)]
    return [(letter.key, letter.to)]
