"""The plan for a day: how much juice to expect, and what to put it in."""

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.people.models import Member
from kitshare.pressdays import heat_models, record_models  # noqa: F401 - so that Django finds them
from kitshare.rules.sizing_terms import YIELD_EXPECTED

# A plan takes a yield from 0.20 (overripe fruit gave 0.275) to 0.85 litres from a kilogram; the rules allow more.
LEAST_YIELD = Decimal("0.200")
MOST_YIELD = Decimal("0.850")
LITRES = (Decimal("0.1"), Decimal("1200"))
FILL = (Decimal("0.5"), Decimal("1"))


class ContainerKindQuerySet(models.QuerySet["ContainerKind"]):
    def in_use(self) -> "ContainerKindQuerySet":
        return self.filter(retired_on=None).order_by("position", "pk")


class ContainerKind(models.Model):
    """A kind of food-grade container that villages fill."""

    name = models.CharField(_("name"), max_length=60)
    litres = models.DecimalField(
        _("litres when full to the brim"),
        max_digits=6,
        decimal_places=2,
        validators=[MinValueValidator(LITRES[0]), MaxValueValidator(LITRES[1])],
    )
    fill_fraction = models.DecimalField(
        _("how full it is filled"),
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.960"),
        validators=[MinValueValidator(FILL[0]), MaxValueValidator(FILL[1])],
        help_text=_(
            "Juice swells when it is heated or frozen; 0.96 leaves 4 in 100 for heating, 0.90 leaves 10 for freezing."
        ),
    )
    reused_glass = models.BooleanField(
        _("re-used glass"),
        default=False,
        help_text=_("Five in a hundred more are brought: some are chipped, will not come clean, or break."),
    )
    usual_parts = models.PositiveSmallIntegerField(
        _("parts in the usual mix"),
        default=0,
        validators=[MaxValueValidator(100)],
        help_text=_("How much of the juice goes into it where a village has planned nothing yet; 0 for none."),
    )
    position = models.PositiveSmallIntegerField(
        _("order in lists"), default=0, validators=[MaxValueValidator(999)], help_text=_("Small numbers come first.")
    )
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar = ContainerKindQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("name"), name="container_kind_name_used_once"),
            models.CheckConstraint(
                condition=Q(litres__gte=LITRES[0], litres__lte=LITRES[1]), name="container_kind_volume_is_believable"
            ),
            models.CheckConstraint(
                condition=Q(fill_fraction__gte=FILL[0], fill_fraction__lte=FILL[1]),
                name="container_kind_is_filled_in_part",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PressPlan(models.Model):
    """What a village expects of its day: a yield of its own, and the mix of containers."""

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="plan")
    yield_expected = models.DecimalField(
        _("litres of juice from a kilogram"), max_digits=4, decimal_places=3, default=YIELD_EXPECTED
    )
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each change, so that two tabs cannot differ."
    )
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(yield_expected__gte=LEAST_YIELD, yield_expected__lte=MOST_YIELD),
                name="planned_yield_is_believable",
            )
        ]

    def __str__(self) -> str:
        return f"plan for {self.booking}"


class PlanShare(models.Model):
    """How much of the juice goes into one kind of container, in parts of a hundred."""

    plan = models.ForeignKey(PressPlan, on_delete=models.CASCADE, related_name="shares")
    kind = models.ForeignKey(ContainerKind, on_delete=models.PROTECT, related_name="+")
    percent = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(100)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "kind"], name="container_kind_once_a_plan"),
            models.CheckConstraint(
                condition=Q(percent__gte=1, percent__lte=100), name="plan_share_is_some_parts_of_a_hundred"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.percent} % in {self.kind}"
