"""A file of bookings between looking and doing."""

import uuid
from datetime import datetime, timedelta
from typing import ClassVar, Final

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking, Stage
from kitshare.people.models import Member

KEPT_FOR: Final = timedelta(days=7)


class ComingAs(models.TextChoices):
    """What bookings still to come are, where the file does not say."""

    AGREED = Stage.AGREED.value, _("agreed: they were promised already")
    ASKED = Stage.ASKED.value, _("asked: I agree or decline each later")


class Telling(models.TextChoices):
    """Who hears of bookings that were brought in."""

    NOBODY = "nobody", _("nobody: they know already")
    BORROWERS = "borrowers", _("each borrower, in one message about all their bookings still to come")


class BroughtFileQuerySet(models.QuerySet["BroughtFile"]):
    def of(self, member: Member) -> "BroughtFileQuerySet":
        """A member's own, and only while they run the calendar."""
        return self.filter(owner=member) if member.coordinates else self.none()

    def kept_too_long(self, at: datetime) -> "BroughtFileQuerySet":
        return self.filter(read_at__lt=at - KEPT_FOR)


class BroughtFile(models.Model):
    """What was read from a file, kept so that what is done is what was looked at. It goes after a week.

    The rows are judged anew each time: a village may be added meanwhile, and days may be taken.
    """

    key = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    owner = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="brought_files")
    name = models.CharField(max_length=200, help_text="Of the file, as the browser gave it.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the file.")
    rows = models.JSONField(encoder=DjangoJSONEncoder)
    remarks = models.JSONField(default=list)
    coming_as = models.CharField(_("bookings still to come are"), max_length=10, choices=ComingAs)
    telling = models.CharField(_("who is told"), max_length=10, choices=Telling)
    fruit_kg = models.DecimalField(
        _("fruit, where the file does not say"), max_digits=7, decimal_places=1, null=True, blank=True
    )
    read_at = models.DateTimeField()
    brought_at = models.DateTimeField(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    bookings = models.ManyToManyField(Booking, related_name="brought_by")

    objects: ClassVar = BroughtFileQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["read_at"], name="brought_file_by_age")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(taken_back_at__isnull=True) | models.Q(brought_at__isnull=False),
                name="brought_in_before_taken_back",
            )
        ]

    def __str__(self) -> str:
        return self.name
