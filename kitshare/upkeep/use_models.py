"""How much a machine was used: what services that fall due by use go by."""

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine


class UseSource(models.TextChoices):
    RECORDED = "recorded", _("recorded")
    ESTIMATED = "estimated", _("estimated")


class MachineUse(models.Model):
    """One machine on one day of a booking, which is known by its key alone: bookings lie above upkeep.

    `kg` is fruit that went through it (mills and presses), `batches` what was heated in it (pasteurisers). Each is 0
    where the machine is of another kind, and `hours` where nobody said.
    """

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="uses")
    day = models.DateField()
    booking_key = models.BigIntegerField()
    kg = models.DecimalField(max_digits=8, decimal_places=3, default=Decimal(0))
    hours = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(0))
    batches = models.PositiveSmallIntegerField(default=0)
    source = models.CharField(max_length=9, choices=UseSource)

    objects: ClassVar = models.Manager["MachineUse"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["booking_key", "machine", "day"], name="machine_use_noted_once_a_day"),
            models.CheckConstraint(condition=Q(kg__gte=0, hours__gte=0), name="machine_use_is_none_or_some"),
        ]
        indexes = [models.Index(fields=["machine", "day"], name="machine_use_by_day")]

    def __str__(self) -> str:
        return f"{self.machine}, {self.day}"
