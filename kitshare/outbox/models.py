"""Something to tell someone, kept until it is delivered."""

from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Channel(models.TextChoices):
    MAIL = "mail", _("by mail")
    TELEPHONE = "telephone", _("by telephone")


class MessageQuerySet(models.QuerySet["Message"]):
    def waiting(self) -> "MessageQuerySet":
        """Messages that have not been delivered yet, by either channel."""
        return self.filter(sent_at=None)

    def to_send(self, at: datetime) -> "MessageQuerySet":
        """Messages that a sender may claim now: due, by mail, and in nobody's hands."""
        return (
            self.waiting()
            .filter(channel=Channel.MAIL, due_at__lte=at)
            .filter(Q(claimed_until=None) | Q(claimed_until__lt=at))
        )

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
    thread = models.CharField(max_length=120, blank=True, help_text="Messages of one booking read as one thread.")
    queued_at = models.DateTimeField()
    due_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)
    sent_at = models.DateTimeField(null=True)
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
            models.Index(fields=["member_key", "-queued_at"], name="message_of_a_member"),
        ]

    def __str__(self) -> str:
        return f"{self.subject} ({self.to_name})"
