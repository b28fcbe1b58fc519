"""Something to tell someone, kept until it is delivered."""

from datetime import datetime
from typing import ClassVar, Final

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

# After so many attempts (some twenty hours) the sender gives up, and the page "Post" says so until somebody acts.
TRIES: Final = 12


class Channel(models.TextChoices):
    MAIL = "mail", _("by mail")
    TELEPHONE = "telephone", _("by telephone")


class MessageQuerySet(models.QuerySet["Message"]):
    def waiting(self) -> "MessageQuerySet":
        """Messages that have not been delivered yet, by either channel."""
        return self.filter(sent_at=None)

    def to_send(self, at: datetime) -> "MessageQuerySet":
        """Messages that a sender may claim now: due, by mail, in nobody's hands, and not given up."""
        return (
            self.waiting()
            .filter(channel=Channel.MAIL, due_at__lte=at, attempts__lt=TRIES)
            .filter(Q(claimed_until=None) | Q(claimed_until__lt=at))
        )

    def delivered(self) -> "MessageQuerySet":
        return self.exclude(sent_at=None)

    def on_their_way(self) -> "MessageQuerySet":
        """Messages by mail that the sender will still try to send by itself."""
        return self.waiting().filter(channel=Channel.MAIL, attempts__lt=TRIES)

    def given_up(self) -> "MessageQuerySet":
        """Messages by mail that nobody will get unless somebody acts."""
        return self.waiting().filter(channel=Channel.MAIL, attempts__gte=TRIES)

    def calendars(self, *, thread: str, member_key: int) -> models.QuerySet["Message", str]:
        """The calendar messages of one thread to one person, the latest first."""
        sent = self.filter(thread=thread, member_key=member_key).exclude(calendar="")
        return sent.order_by("-queued_at", "-pk").values_list("calendar", flat=True)

    def to_telephone(self) -> "MessageQuerySet":
        """Messages for people without an address, which somebody must ring about."""
        return self.waiting().filter(channel=Channel.TELEPHONE)


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
    last_error = models.TextField(blank=True)
    sent_at = models.DateTimeField(null=True)
    kept_here = models.BooleanField(default=False, help_text="There was no mail server: it is shown, and went nowhere.")
    told_by_name = models.CharField(max_length=120, blank=True, help_text="Who rang, for a message by telephone.")

    objects: ClassVar = MessageQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["key"], name="message_told_once"),
            models.CheckConstraint(
                condition=~Q(channel=Channel.MAIL, to_address=""), name="message_by_mail_has_an_address"
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
        return self.sent_at is None

    @property
    def is_given_up(self) -> bool:
        return self.is_waiting and self.channel == Channel.MAIL and self.attempts >= TRIES

    @property
    def is_to_telephone(self) -> bool:
        return self.is_waiting and self.channel == Channel.TELEPHONE
