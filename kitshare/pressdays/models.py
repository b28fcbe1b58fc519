"""The plan for a day: how much juice to expect, and what to put it in."""

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking


class ContainerKindQuerySet(models.QuerySet["ContainerKind"]):
    def in_use(self) -> "ContainerKindQuerySet":
        return self.filter(retired_on=None).order_by("position", "pk")


class ContainerKind(models.Model):
    """A kind of food-grade container that villages fill."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    litres = models.DecimalField(
        _("nominal volume in litres"),
        max_digits=6,
        decimal_places=2,
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal("1200"))],
    )
    fill_fraction = models.DecimalField(
        _("how full it is filled"),
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.960"),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(Decimal("1"))],
        help_text=_(
            "Juice swells when it is heated or frozen; 0.96 leaves 4 in 100 for heating, 0.90 leaves 10 for freezing."
        ),
    )
    position = models.PositiveSmallIntegerField(_("order in lists"), default=0)
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar = ContainerKindQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name


class PressPlan(models.Model):
    """What a village expects of its day: a yield of its own, and the mix of containers."""

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="plan")
    yield_expected = models.DecimalField(
        _("litres of juice from a kilogram"), max_digits=4, decimal_places=3, default=Decimal("0.550")
    )
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(yield_expected__gte=Decimal("0.200"), yield_expected__lte=Decimal("0.850")),
                name="planned_yield_is_believable",
            )
        ]

    def __str__(self) -> str:
        return f"plan for {self.booking}"


class PlanShare(models.Model):
    """How much of the juice goes into one kind of container, in parts of a hundred."""

    plan = models.ForeignKey(PressPlan, on_delete=models.CASCADE, related_name="shares")
    kind = models.ForeignKey(ContainerKind, on_delete=models.PROTECT, related_name="+")
    percent = models.PositiveSmallIntegerField(validators=[MaxValueValidator(100)])

    class Meta:
        constraints = [models.UniqueConstraint(fields=["plan", "kind"], name="container_kind_once_a_plan")]

    def __str__(self) -> str:
        return f"{self.percent} % in {self.kind}"
