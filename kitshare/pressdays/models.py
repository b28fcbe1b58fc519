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
from kitshare.pressdays import clock_models, heat_models, record_models  # noqa: F401 - so that Django finds them
from kitshare.rules.containers import Kind, Material, Use

# A plan takes a yield from 0.20 (overripe fruit gave 0.275) to 0.85 litres from a kilogram; the rules allow more.
LEAST_YIELD = Decimal("0.200")
MOST_YIELD = Decimal("0.850")
LITRES = (Decimal("0.1"), Decimal("1200"))
FILL = (Decimal("0.5"), Decimal("1"))


HEAT = (Decimal(0), Decimal(150))
TARE = (Decimal(0), Decimal(200))
MOST_AT_HAND = 20_000
MOST_SORTED_OUT = 90


class UseChoice(models.TextChoices):
    """What becomes of the juice."""

    HEATED = Use.HEATED.value, _("heated")
    FRESH = Use.FRESH.value, _("fresh")
    FROZEN = Use.FROZEN.value, _("frozen")
    TO_FERMENT = Use.TO_FERMENT.value, _("to ferment")


class MaterialChoice(models.TextChoices):
    """What the juice touches; empty where nobody has said."""

    GLASS = Material.GLASS.value, _("glass")
    PET = Material.PET.value, _("PET plastic")
    HDPE = Material.HDPE.value, _("HDPE plastic")
    PP = Material.PP.value, _("PP plastic")
    STAINLESS_STEEL = Material.STAINLESS_STEEL.value, _("stainless steel")
    FILM = Material.FILM.value, _("film, as in bags")
    BARE_STEEL = Material.BARE_STEEL.value, _("bare steel")
    GLAZED_POTTERY = Material.GLAZED_POTTERY.value, _("glazed pottery")


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
    material = models.CharField(
        _("what the juice touches"),
        max_length=16,
        choices=MaterialChoice,
        blank=True,
        help_text=_("Unknown: nobody knows what heat it bears, so nothing is heated in it unless its maker says."),
    )
    food_grade = models.BooleanField(
        _("food grade"), default=True, help_text=_("Made for food, by its maker's word or the sign on it.")
    )
    highest_fill_c = models.DecimalField(
        _("highest fill temperature, °C"),
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(HEAT[0]), MaxValueValidator(HEAT[1])],
        help_text=_(
            "By its maker. Empty: by the material (PET 49, HDPE 62.8, PP 73.9, glass and stainless steel 100)."
        ),
    )
    usual_use = models.CharField(
        _("usually holds"), max_length=10, choices=UseChoice, default=UseChoice.HEATED, help_text=_("Plans may differ.")
    )
    fill_fraction = models.DecimalField(
        _("how full it is filled"),
        max_digits=4,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(FILL[0]), MaxValueValidator(FILL[1])],
        help_text=_(
            "As a part of one. Empty: to the shoulder (0.96) for heating, with room (0.90) for freezing and to ferment,"
            " nearly full (0.98) for fresh juice."
        ),
    )
    reused_glass = models.BooleanField(
        _("re-used glass"),
        default=False,
        help_text=_(
            "Some more are brought: some are chipped, will not come clean, or break. The scheme says how many."
        ),
    )
    tare_kg = models.DecimalField(
        _("kilograms when empty"),
        max_digits=6,
        decimal_places=3,
        default=Decimal(0),
        validators=[MinValueValidator(TARE[0]), MaxValueValidator(TARE[1])],
        help_text=_(
            "With its cap or lid. 0 where nobody has weighed one: full ones are then heavier than the plan says."
        ),
    )
    per_crate = models.PositiveSmallIntegerField(
        _("how many in a crate"), default=1, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    capped = models.BooleanField(
        _("needs a cap"), default=True, help_text=_("A new one each time, five in a hundred over.")
    )
    lent = models.PositiveIntegerField(
        _("how many the scheme lends"),
        default=0,
        validators=[MaxValueValidator(MOST_AT_HAND)],
        help_text=_("Kept at the depot for villages to borrow. What is missing after these is to be bought."),
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
                condition=Q(fill_fraction__isnull=True) | Q(fill_fraction__gte=FILL[0], fill_fraction__lte=FILL[1]),
                name="container_kind_is_filled_in_part",
            ),
            models.CheckConstraint(
                condition=Q(per_crate__gte=1, per_crate__lte=100), name="container_kind_travels_in_crates"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def as_rule(self) -> Kind:
        """This kind as the rules take it. What nobody said of the material is as film: no heat that is known of."""
        return Kind(
            key=str(self.pk),
            litres=self.litres,
            material=Material(self.material) if self.material else Material.FILM,
            food_grade=self.food_grade,
            highest_fill_c=self.highest_fill_c,
            fill_fraction=self.fill_fraction,
            tare_kg=self.tare_kg,
            per_crate=self.per_crate,
            reused=self.reused_glass,
            capped=self.capped,
        )


class PressPlan(models.Model):
    """What a village expects of its day: its fruit, what becomes of the juice, and what it has to put it in."""

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="plan")
    yield_expected = models.DecimalField(
        _("litres of juice from a kilogram"),
        max_digits=4,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="The village's own; none where the press days recorded so far say it.",
    )
    fruit_word = models.CharField(_("kind of fruit"), max_length=60, blank=True)
    sorted_out_percent = models.PositiveSmallIntegerField(
        _("sorted out, in a hundred"), default=0, validators=[MaxValueValidator(MOST_SORTED_OUT)]
    )
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each change, so that two tabs cannot differ."
    )
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(yield_expected__isnull=True)
                | Q(yield_expected__gte=LEAST_YIELD, yield_expected__lte=MOST_YIELD),
                name="planned_yield_is_believable",
            ),
            models.CheckConstraint(
                condition=Q(sorted_out_percent__gte=0, sorted_out_percent__lte=MOST_SORTED_OUT),
                name="planned_sorting_leaves_some_fruit",
            ),
        ]

    def __str__(self) -> str:
        return f"plan for {self.booking}"


class PlanShare(models.Model):
    """How much of the juice, in parts of a hundred, goes to one use, and the kind of container meant for it."""

    plan = models.ForeignKey(PressPlan, on_delete=models.CASCADE, related_name="shares")
    use = models.CharField(max_length=10, choices=UseChoice, default=UseChoice.HEATED)
    kind = models.ForeignKey(ContainerKind, on_delete=models.PROTECT, related_name="+")
    percent = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(100)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "use", "kind"], name="container_kind_once_a_plan_and_use"),
            models.CheckConstraint(
                condition=Q(percent__gte=1, percent__lte=100), name="plan_share_is_some_parts_of_a_hundred"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.percent} % {self.use} in {self.kind}"


class AtHand(models.Model):
    """How many containers of a kind the village has itself, for one press day."""

    plan = models.ForeignKey(PressPlan, on_delete=models.CASCADE, related_name="at_hand")
    kind = models.ForeignKey(ContainerKind, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MOST_AT_HAND)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "kind"], name="container_kind_at_hand_once_a_plan"),
            models.CheckConstraint(
                condition=Q(number__gte=1, number__lte=MOST_AT_HAND), name="some_containers_are_at_hand"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.kind}"
