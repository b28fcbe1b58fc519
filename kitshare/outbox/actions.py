"""Putting messages into the outbox, and getting them out of it.

A message is claimed with a lease, sent outside any transaction, and marked after it went. A sender that dies between
the last two, or finds no room to mark it, leaves a message that goes a second time, under the same Message-ID; never
one that is lost. The claim counts how often that was so: after the fourth nobody sends it again by itself.
"""

import logging
import random
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import F

from kitshare.engine import deed
from kitshare.outbox import returns
from kitshare.outbox.channels import calls, mail
from kitshare.outbox.channels.way import Addressee, Chooses, NotSent, Way
from kitshare.outbox.models import TRIES, BadAddress, Channel, Message
from kitshare.outbox.speaking import is_spoken_to
from kitshare.rules.hearing import Telling, Wishes, when_to_tell

log = logging.getLogger(__name__)

# A round stops claiming after so long. The lease covers that and the slowest last message (each of some seven exchanges
# with the mail server may take EMAIL_TIMEOUT), so that no second sender claims what the first still holds.
ROUND_SECONDS: Final = 60
LEASE: Final = timedelta(minutes=5)

FIRST_WAIT: Final = timedelta(minutes=1)
LONGEST_WAIT: Final = timedelta(hours=6)


# The ways to a person, the first that reaches them is taken.
WAYS: Final[Mapping[Channel, Way]] = {Channel.MAIL: mail, Channel.TELEPHONE: calls}


@dataclass(frozen=True, slots=True)
class Delivered:
    """What one round of sending did."""

    sent: int
    failed: int


@deed
def queue(
    *,
    key: str,
    to: Addressee,
    subject: str,
    body: str,
    at: datetime,
    thread: str = "",
    due_at: datetime | None = None,
    html: str = "",
    calendar: str = "",
    kind: str = "",
    is_safety: bool = False,
    alone: bool = False,
    needed_by: datetime | None = None,
) -> Message | None:
    """Keep something to tell somebody, in the caller's transaction; None when that key was told already, or where what
    is being written is in another language than theirs (`speaking.in_each_language`).

    Somebody without an e-mail address is to be telephoned, and so is somebody whose address post comes back from.
    Messages of one thread read as one in a mail program. By mail the body may go as HTML too, and with it a calendar
    message (RFC 6047). `kind` is the slug of a reminder's kind, empty for a notice of somebody's deed. What is about
    safety waits for nothing and cannot be switched off. `alone`: it answers what its person did, and no digest takes
    it. `needed_by`: afterwards it is of no use.
    """
    wishes = to.wishes() if isinstance(to, Chooses) else Wishes()
    if not is_spoken_to(wishes.language):
        return None
    channel = next(name for name, way in WAYS.items() if way.reaches(to))
    telling = Telling(due_at or at)
    if kind and not is_safety and not wishes.reminders:
        channel = Channel.UNWANTED
    elif channel == Channel.MAIL and not is_safety:
        alone = alone or bool(calendar)
        telling = when_to_tell(wishes, at=due_at or at, alone=alone, needed_by=needed_by)
    facts = {
        "member_key": to.pk,
        "to_name": to.name,
        "to_address": to.email or "",
        "to_telephone": to.telephone,
        "subject": " ".join(str(subject).split())[:200],  # a line break in a mail's subject would forge a header
        "body": str(body),
        "thread": thread,
        "kind": kind,
        "is_safety": is_safety,
        "language": wishes.language,
        "queued_at": at,
    }
    by_mail = {"html": html, "calendar": calendar} if channel == Channel.MAIL else {}
    more = {"channel": channel, "due_at": telling.due_at, "digest_on": telling.digest_on} | by_mail
    message, is_new = Message.objects.get_or_create(key=key, defaults=facts | more)
    if is_new and channel == Channel.MAIL and BadAddress.objects.bad().of(to.email).exists():
        call_about(message=message, at=at)
    return message if is_new else None


@deed
def call_about(*, message: Message, at: datetime) -> Message:
    """Put a letter on the list of calls too: its address takes no post, or it came back. Once for each letter."""
    facts = {
        name: getattr(message, name)
        for name in ("member_key", "to_name", "to_address", "to_telephone", "subject", "body", "thread", "is_safety")
    }
    facts |= {"channel": Channel.TELEPHONE, "queued_at": at, "due_at": at}
    call, _is_new = Message.objects.get_or_create(key=f"call:{message.key}"[:200], defaults=facts)
    return call


def deliver_due(*, at: datetime, limit: int = 50) -> Delivered:
    """Send what is due, one message after another. Never call it inside a transaction: it talks to a mail server."""
    return deliver(keys=what_is_due(at=at, limit=limit), at=at)


def what_is_due(*, at: datetime, limit: int) -> list[int]:
    """The keys of the messages that a sender may claim now, the longest due first."""
    with transaction.atomic(durable=True):
        return list(Message.objects.to_send(at).order_by("due_at", "pk").values_list("pk", flat=True)[:limit])


def deliver(*, keys: Sequence[int], at: datetime) -> Delivered:
    """Send these messages, as far as they are still due and no other sender has them; what is left is found again."""
    until = time.monotonic() + ROUND_SECONDS
    sent = failed = 0
    for key in keys:
        if time.monotonic() > until:
            break
        message = _claim(key=key, at=at)
        if message is None:
            continue
        if _send(message, at=at):
            sent += 1
        else:
            failed += 1
    return Delivered(sent=sent, failed=failed)


@deed
def _claim(*, key: int, at: datetime) -> Message | None:
    """Take one message in hand, unless another sender was quicker: the update itself decides, on either engine.

    It is written down as sent and then as claimed, in one transaction: a disk that has no room for the note of its
    sending has none for the claim either, and nothing is sent.
    """
    mine = Message.objects.to_send(at).filter(pk=key)
    if not mine.update(sent_at=at):
        return None
    counted = {"attempts": F("attempts") + 1, "unknown_ends": F("unknown_ends") + 1}
    Message.objects.filter(pk=key).update(sent_at=None, claimed_until=at + LEASE, **counted)
    return Message.objects.get(pk=key)


@deed
def _mark_sent(*, message: Message, at: datetime) -> None:
    Message.objects.waiting().filter(pk=message.pk).update(
        sent_at=at, claimed_until=None, unknown_ends=0, last_error="", kept_here=not settings.EMAIL_ADDRESS
    )


@deed
def _mark_failed(*, message: Message, error: str, for_good: bool, at: datetime, of_address: bool = False) -> None:
    attempts = TRIES if for_good else message.attempts
    if of_address and attempts >= TRIES:
        returns.note_refused(address=message.to_address, words=error, for_good=for_good, at=at)
        call_about(message=message, at=at)
    Message.objects.waiting().filter(pk=message.pk).update(
        attempts=attempts,
        unknown_ends=0,
        last_error=error[:1000],
        claimed_until=None,
        due_at=at + pause_after(message.attempts),
    )


def pause_after(attempts: int) -> timedelta:
    """How long to leave a mail server alone: twice as long each time, and never all messages at the same moment."""
    wait: timedelta = min(FIRST_WAIT * 2 ** (attempts - 1), LONGEST_WAIT)
    return wait * random.uniform(0.8, 1.2)  # noqa: S311


def _send(message: Message, *, at: datetime) -> bool:
    try:
        WAYS[Channel(message.channel)].send(message)
    except NotSent as failure:
        log.warning("Message %s was not sent (attempt %s): %s", message.pk, message.attempts, failure.words)
        _mark_failed(
            message=message, error=failure.words, for_good=failure.for_good, at=at, of_address=failure.of_address
        )
        return False
    _mark_sent(message=message, at=at)
    if settings.EMAIL_ADDRESS:  # what is only kept here says nothing of an address
        returns.note_taken(address=message.to_address, at=at)  # by itself: it may need room that the mark does not
    return True
