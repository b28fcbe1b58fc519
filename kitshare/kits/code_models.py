"""The short code on a kit, a machine or a box."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from kitshare.rules import codes


class CodeQuerySet(models.QuerySet["Code"]):
    def with_things(self) -> "CodeQuerySet":
        """Each with what it stands for."""
        return self.select_related("kit", "machine__kit")

    def of_kit(self, kit: models.Model) -> "CodeQuerySet":
        """Those of a kit, of its machines and of their boxes."""
        return self.filter(Q(kit=kit.pk) | Q(machine__kit=kit.pk))


class Code(models.Model):
    """Which kit, machine or box a printed code means. It is no secret, and opens nothing by itself.

    A box is where parts of one machine travel, by the name that they give of it: it has no other identity, and once
    nothing is packed in it, its code says so. A code is never given to anything else.
    """

    text = models.CharField(max_length=6, unique=True)
    kit = models.ForeignKey("kits.Kit", on_delete=models.PROTECT, related_name="codes", null=True)
    machine = models.ForeignKey("kits.Machine", on_delete=models.PROTECT, related_name="codes", null=True)
    box = models.CharField(
        max_length=80, blank=True, help_text="As a part named it first; empty for the machine itself."
    )
    box_key = models.CharField(max_length=240, blank=True, help_text="The same, whatever the case.")

    objects: ClassVar = CodeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kit__isnull=False, machine__isnull=True, box_key="")
                | Q(kit__isnull=True, machine__isnull=False),
                name="code_means_one_thing",
            ),
            models.UniqueConstraint(fields=["kit"], name="kit_has_one_code"),
            models.UniqueConstraint(fields=["machine", "box_key"], name="machine_and_box_have_one_code"),
        ]

    def __str__(self) -> str:
        return codes.shown(self.text)


def box_key(packed_in: str) -> str:
    """What tells two boxes of a machine apart."""
    return packed_in.strip().casefold()
