"""Photos at a fault: what was wrong, and what it looks like since."""

import uuid
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import Member


class PhotoWhen(models.TextChoices):
    BEFORE = "before", _("before the mending")
    AFTER = "after", _("after the mending")


def photo_place(photo: "FaultPhoto", _sent_name: str) -> str:
    """Where a photo lies: named by its own key, never by what a phone called it."""
    return f"faults/{photo.at:%Y/%m}/{photo.key}.jpg"


class FaultPhoto(AddedRow):
    """A picture at a fault; added, never changed. The same picture sent again for the same fault is the same photo."""

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    fault = models.ForeignKey("upkeep.Fault", on_delete=models.PROTECT, related_name="photos")
    when = models.CharField(_("when it was taken"), max_length=6, choices=PhotoWhen)
    image = models.ImageField(upload_to=photo_place)
    digest = models.CharField(max_length=64, help_text="Of the picture as it was sent.")
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = OnlyAdded["FaultPhoto"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["fault", "digest"], name="photo_kept_once_a_fault")]

    def __str__(self) -> str:
        return str(self.key)
