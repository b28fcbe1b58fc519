"""What was seen at each handover."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Part
from kitshare.people.models import Member
from kitshare.rules.checklists import Condition
from kitshare.upkeep.models import Fault

CONDITIONS = [
    (Condition.SOUND.value, _("sound")),
    (Condition.WORN.value, _("worn")),
    (Condition.DAMAGED.value, _("damaged")),
    (Condition.MISSING.value, _("missing")),
]


class CheckKind(models.TextChoices):
    PICKUP = "pickup", _("pickup check")
    RETURN = "return", _("return check")


class Outcome(models.TextChoices):
    HANDED_OVER = "handed_over", _("handed over")
    STOPPED = "stopped", _("stopped")


class SignedRole(models.TextChoices):
    """In what part the person who signed stood there."""

    BORROWER = "borrower", _("borrower")
    DEPOT = "depot", _("for the depot")
    HELPER = "helper", _("helper of the village")


class HandoverCheck(models.Model):
    """The parts ticked and the condition seen at one end of a booking.

    The key is made with the form, so that a check sent twice is one check. A pickup that was stopped is kept too,
    and may be followed by another; a booking is handed over once and comes back once.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="handover_checks")
    kind = models.CharField(max_length=6, choices=CheckKind)
    outcome = models.CharField(max_length=12, choices=Outcome)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    signed_name = models.CharField(_("name of the person who signs"), max_length=120)
    signed_role = models.CharField(_("who signs"), max_length=10, choices=SignedRole)
    note = models.TextField(_("note"), max_length=2000, blank=True)
    done_at = models.DateTimeField()
    digest = models.CharField(max_length=64, help_text="Of all that was sent, so that a changed sheet is told apart.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["booking", "kind"], condition=Q(outcome="handed_over"), name="booking_handed_over_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.booking}"


def photo_place(photo: "Photo", _sent_name: str) -> str:
    """Where a photo lies: named by its own key, never by what a phone called it."""
    return f"checks/{photo.taken_at:%Y/%m}/{photo.key}.jpg"


class Photo(models.Model):
    """A picture of a part as it was seen. It is kept as soon as it arrives, so that a refused form does not lose it.

    The same picture sent again for the same booking is the same photo: a check sent twice stays one check.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="photos")
    image = models.ImageField(upload_to=photo_place)
    digest = models.CharField(max_length=64, help_text="Of the picture as it was sent.")
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["booking", "digest"], name="photo_kept_once_a_booking")]

    def __str__(self) -> str:
        return str(self.key)


class CheckLineQuerySet(models.QuerySet["CheckLine"]):
    def in_packing_order(self) -> "CheckLineQuerySet":
        return self.order_by("part__machine__position", "part__machine_id", "part__position", "part_id")


class CheckLine(models.Model):
    """One part at one check: how many were there, and in what condition."""

    check_of = models.ForeignKey(HandoverCheck, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="check_lines")
    expected_count = models.PositiveSmallIntegerField()
    count = models.PositiveSmallIntegerField()
    condition = models.CharField(max_length=8, choices=CONDITIONS)
    spare_fitted = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="lines")
    fault = models.ForeignKey(Fault, on_delete=models.PROTECT, null=True, blank=True, related_name="found_in")

    objects: ClassVar = CheckLineQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["check_of", "part"], name="part_seen_once_a_check")]

    def __str__(self) -> str:
        return f"{self.part}: {self.count}, {self.get_condition_display()}"
