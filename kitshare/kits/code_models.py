"""The short code on a kit, a machine or a box."""

from collections.abc import Iterable
from decimal import Decimal
from typing import ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.rules import codes

TARE_BOUNDS: Final = (Decimal(0), Decimal(200))  # kilograms


class CodeQuerySet(models.QuerySet["Code"]):
    def with_things(self) -> "CodeQuerySet":
        """Each with what it stands for."""
        return self.select_related("kit", "machine__kit")

    def of_kit(self, kit: models.Model) -> "CodeQuerySet":
        """Those of a kit, of its machines and of their boxes."""
        return self.filter(Q(kit=kit.pk) | Q(machine__kit=kit.pk))

    def boxes_of(self, machines: Iterable[models.Model]) -> "CodeQuerySet":
        """Those of the boxes of some machines."""
        return self.filter(machine__in=[machine.pk for machine in machines]).exclude(box_key="")


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
    tare_kg = models.DecimalField(
        _("weight of the empty box in kilograms"),
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(TARE_BOUNDS[0]), MaxValueValidator(TARE_BOUNDS[1])],
    )

    objects: ClassVar = CodeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kit__isnull=False, machine__isnull=True, box_key="")
                | Q(kit__isnull=True, machine__isnull=False),
                name="code_means_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(tare_kg__isnull=True)
                | (~Q(box_key="") & Q(tare_kg__gte=TARE_BOUNDS[0], tare_kg__lte=TARE_BOUNDS[1])),
                name="only_a_box_has_a_tare",
            ),
            models.UniqueConstraint(fields=["kit"], name="kit_has_one_code"),
            models.UniqueConstraint(fields=["machine", "box_key"], name="machine_and_box_have_one_code"),
        ]

    def __str__(self) -> str:
        return codes.shown(self.text)


def box_key(packed_in: str) -> str:
    """What tells two boxes of a machine apart."""
    return packed_in.strip().casefold()
