"""Something to tell someone, kept until it is delivered."""

import functools
import operator
from datetime import datetime, timedelta
from typing import ClassVar, Final

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

# After so many attempts (some twenty hours) the sender gives up, and the page "Post" says so until somebody acts.
TRIES: Final = 12

# How long after its lease a letter rests of which nobody knows what became of it: its sender died, or could not write
# down that it went. By the number of such ends in a row; after the last it goes no more by itself, since it may have
# arrived each time.
REST_AFTER_UNKNOWN: Final = (timedelta(0), timedelta(hours=1), timedelta(hours=6))
MOST_UNKNOWN: Final = len(REST_AFTER_UNKNOWN) + 1
GIVEN_UP: Final = Q(attempts__gte=TRIES) | Q(unknown_ends__gte=MOST_UNKNOWN)


class Channel(models.TextChoices):
    MAIL = "mail", _("by mail")
    TELEPHONE = "telephone", _("by telephone")
    UNWANTED = "unwanted", _("not at all: they want no reminders")  # kept, so that its key is told once


def _left_by_a_sender(at: datetime) -> Q:
    """Letters whose lease is over, and with it the rest after an end that nobody knows."""
    rested = (
        Q(unknown_ends=ends, claimed_until__lt=at - rest) for ends, rest in enumerate(REST_AFTER_UNKNOWN, start=1)
    )
    return functools.reduce(operator.or_, rested, Q(unknown_ends=0, claimed_until__lt=at))


class MessageQuerySet(models.QuerySet["Message"]):
    def waiting(self) -> "MessageQuerySet":
        """Messages that have not been delivered yet, by either channel, and that no digest took along."""
        return self.filter(sent_at=None, gathered_in=None).exclude(channel=Channel.UNWANTED)

    def to_send(self, at: datetime) -> "MessageQuerySet":
        """Messages that a sender may claim now: due, by mail, in nobody's hands, and not given up."""
        return (
            self.waiting()
            .filter(channel=Channel.MAIL, due_at__lte=at, attempts__lt=TRIES)
            .filter(Q(claimed_until=None) | _left_by_a_sender(at))
            .filter(Q(digest_on=None) | Q(is_digest=True))
        )

    def for_digest(self) -> "MessageQuerySet":
        """Messages that wait to be gathered into one letter of the day."""
        return self.waiting().filter(channel=Channel.MAIL, is_digest=False).exclude(digest_on=None)

    def delivered(self) -> "MessageQuerySet":
        return self.exclude(sent_at=None)

    def on_their_way(self) -> "MessageQuerySet":
        """Messages by mail that the sender will still try to send by itself."""
        return self.waiting().filter(channel=Channel.MAIL).exclude(GIVEN_UP)

    def given_up(self) -> "MessageQuerySet":
        """Messages by mail that nobody will get unless somebody acts."""
        return self.waiting().filter(GIVEN_UP, channel=Channel.MAIL)

    def dead(self) -> "MessageQuerySet":
        """Letters that reached nobody: given up, or come back after a server had taken them."""
        given_up = GIVEN_UP & Q(sent_at=None, gathered_in=None)
        return self.filter(given_up | Q(came_back_at__isnull=False), channel=Channel.MAIL)

    def calendars(self, *, thread: str, member_key: int) -> models.QuerySet["Message", str]:
        """The calendar messages of one thread to one person, the latest first."""
        sent = self.filter(thread=thread, member_key=member_key).exclude(calendar="")
        return sent.order_by("-queued_at", "-pk").values_list("calendar", flat=True)

    def to_telephone(self) -> "MessageQuerySet":
        """Messages for people without an address, which somebody must ring about."""
        return self.waiting().filter(channel=Channel.TELEPHONE)

    def missed(self, before: datetime) -> "MessageQuerySet":
        """Calls that were to be made before a moment, and nobody made."""
        return self.to_telephone().filter(due_at__lt=before)


class Message(models.Model):
    """One message to one person. Its key says what it is about, so that a job may run twice and tell once."""

    key = models.CharField(max_length=200)
    channel = models.CharField(max_length=10, choices=Channel)
    member_key = models.BigIntegerField(
        null=True, help_text="Whom it is for; the person may be gone, the message stays."
    )
    to_name = models.CharField(max_length=120)
    to_address = models.EmailField(blank=True)
    to_telephone = models.CharField(max_length=40, blank=True)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    html = models.TextField(blank=True, help_text="The body once more, for mail programs that show HTML.")
    calendar = models.TextField(blank=True, help_text="A calendar message that goes with it: the same at every try.")
    thread = models.CharField(max_length=120, blank=True, help_text="Messages of one booking read as one thread.")
    kind = models.CharField(
        max_length=60,
        blank=True,
        db_default="",
        default="",
        help_text="The kind of reminder, as a slug; empty for a notice of a deed.",
    )
    is_safety = models.BooleanField(db_default=False, default=False, help_text="About safety: it waits for nothing.")
    queued_at = models.DateTimeField()
    due_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    unknown_ends = models.PositiveSmallIntegerField(
        default=0, db_default=0, help_text="How often it was taken in hand since it was last known what became of it."
    )
    last_error = models.TextField(blank=True)
    sent_at = models.DateTimeField(null=True)
    kept_here = models.BooleanField(default=False, help_text="There was no mail server: it is shown, and went nowhere.")
    language = models.CharField(
        max_length=12, blank=True, default="", db_default="", help_text="In which it is written; empty: the site's."
    )
    digest_on = models.DateField(null=True, help_text="The day whose digest it waits for, or whose digest it is.")
    is_digest = models.BooleanField(default=False, db_default=False)
    gathered_in = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="gathered")
    came_back_at = models.DateTimeField(null=True, help_text="When a mail server reported that it reached nobody.")
    call_missed_at = models.DateTimeField(null=True, help_text="When the coordinators heard that nobody had rung.")
    told_by_name = models.CharField(max_length=120, blank=True, help_text="Who rang, for a message by telephone.")

    objects: ClassVar = MessageQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["key"], name="message_told_once"),
            models.CheckConstraint(
                condition=~Q(channel=Channel.MAIL, to_address=""), name="message_by_mail_has_an_address"
            ),
            models.UniqueConstraint(
                fields=["member_key", "digest_on"],
                condition=Q(is_digest=True),
                name="one_digest_a_member_and_day",
            ),
            models.CheckConstraint(
                condition=Q(gathered_in=None) | Q(is_digest=False, sent_at=None, digest_on__isnull=False),
                name="gathered_message_is_not_sent_itself",
            ),
        ]
        indexes = [
            models.Index(fields=["due_at"], condition=Q(sent_at=None), name="message_waiting"),
            models.Index(fields=["-queued_at", "-id"], name="message_newest_first"),
            models.Index(fields=["thread"], condition=~Q(thread=""), name="message_of_a_thread"),
            models.Index(fields=["member_key", "-queued_at"], name="message_of_a_member"),
        ]

    def __str__(self) -> str:
        return f"{self.subject} ({self.to_name})"

    @property
    def is_waiting(self) -> bool:
        return self.sent_at is None and self.gathered_in_id is None and self.channel != Channel.UNWANTED

    @property
    def waits_for_digest(self) -> bool:
        return self.is_waiting and self.digest_on is not None and not self.is_digest

    @property
    def is_given_up(self) -> bool:
        has_ended = self.attempts >= TRIES or self.unknown_ends >= MOST_UNKNOWN
        return self.is_waiting and self.channel == Channel.MAIL and has_ended

    @property
    def next_try_at(self) -> datetime:
        """When a sender may claim it next, as far as it will."""
        if self.claimed_until is None or not 0 < self.unknown_ends < MOST_UNKNOWN:
            return self.due_at
        return self.claimed_until + REST_AFTER_UNKNOWN[self.unknown_ends - 1]

    @property
    def may_have_arrived(self) -> bool:
        """Whether it was sent, and nobody could write down how that ended."""
        return self.is_waiting and self.unknown_ends > 0

    @property
    def is_to_telephone(self) -> bool:
        return self.is_waiting and self.channel == Channel.TELEPHONE


class BadAddressQuerySet(models.QuerySet["BadAddress"]):
    def of(self, address: str | None) -> "BadAddressQuerySet":
        return self.filter(address=(address or "").lower())

    def bad(self) -> "BadAddressQuerySet":
        return self.filter(is_bad=True)


class BadAddress(models.Model):
    """An address from which post came back. It is about the address: somebody with another one is rid of it."""

    address = models.EmailField(help_text="In small letters.")
    letters = models.PositiveSmallIntegerField(default=1, help_text="How many came back or were given up.")
    is_bad = models.BooleanField(help_text="Refused for good, or given up often enough.")
    was_returned = models.BooleanField(help_text="By a letter of its own (RFC 3464), after the server had taken it.")
    last_at = models.DateTimeField()
    words = models.TextField()
    taken_at = models.DateTimeField(null=True, help_text="When a server first took a letter again since.")

    objects: ClassVar = BadAddressQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["address"], name="bad_address_kept_once")]

    def __str__(self) -> str:
        return self.address
