"""What a press day really gave: fruit in, juice out by use, hands and hours. Each belongs to a booking and a day."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE

MOST_KG: Final = Decimal(20000)
MOST_HOURS: Final = Decimal(24)
MOST_HELPERS: Final = 200
MOST_BATCHES: Final = 200
MOST_BOTTLES: Final = 20_000
# What juice is put to, in the order in which it is asked and shown.
USES: Final = ("fresh", "frozen", "heated", "to_ferment")


def _litres(name: Any) -> Any:
    return models.DecimalField(name, max_digits=8, decimal_places=3, default=Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a day gave, as somebody says it: kilograms, and litres by use. `PressDayRecord` says what each means."""

    pressed_kg: Decimal
    waste_kg: Decimal = Decimal(0)
    litres_fresh: Decimal = Decimal(0)
    litres_frozen: Decimal = Decimal(0)
    litres_heated: Decimal = Decimal(0)
    litres_to_ferment: Decimal = Decimal(0)
    hours: Decimal | None = None
    helpers: int | None = None
    batches: int | None = None
    reused_brought: int | None = None
    reused_broken: int | None = None
    fruit: str = ""
    note: str = ""


class PressDayRecordQuerySet(models.QuerySet["PressDayRecord"]):
    def visible_to(self, member: Member) -> "PressDayRecordQuerySet":
        """Those of the bookings that a member may see."""
        return self.filter(booking__in=Booking.objects.visible_to(member))


class PressDayRecord(models.Model):
    """What one day of a booking gave. A day on which nothing was pressed is one too: no fruit, no juice.

    `pressed_kg` went through the mill; `waste_kg` was sorted out before it and is not counted in that. Of
    `reused_brought` bottles `reused_broken` could not be filled: broken, chipped or not clean. Both or neither is told.
    """

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="day_records")
    day = models.DateField(_("day"))
    pressed_kg = models.DecimalField(_("fruit pressed"), max_digits=8, decimal_places=3)
    waste_kg = models.DecimalField(_("sorted out"), max_digits=8, decimal_places=3, default=Decimal(0))
    litres_fresh = _litres(_("drunk fresh"))
    litres_frozen = _litres(_("frozen"))
    litres_heated = _litres(_("heated"))
    litres_to_ferment = _litres(_("to ferment"))
    hours = models.DecimalField(_("hours of work"), max_digits=4, decimal_places=1, null=True, blank=True)
    helpers = models.PositiveSmallIntegerField(
        _("helpers"), null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MOST_HELPERS)]
    )
    batches = models.PositiveSmallIntegerField(
        _("batches heated"), null=True, blank=True, validators=[MaxValueValidator(MOST_BATCHES)]
    )
    reused_brought = models.PositiveIntegerField(
        _("re-used bottles brought"), null=True, blank=True, validators=[MaxValueValidator(MOST_BOTTLES)]
    )
    reused_broken = models.PositiveIntegerField(
        _("of these broken, chipped or not clean"), null=True, blank=True, validators=[MaxValueValidator(MOST_BOTTLES)]
    )
    fruit = models.CharField(_("kind of fruit"), max_length=60, blank=True)
    machines = models.ManyToManyField(Machine, related_name="day_records", blank=True, verbose_name=_("machines used"))
    note = models.TextField(_("note"), max_length=2000, blank=True)
    recorded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each correction, so that two tabs cannot differ."
    )

    objects: ClassVar = PressDayRecordQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["booking", "day"], name="press_day_recorded_once"),
            models.CheckConstraint(
                condition=Q(pressed_kg__gte=0, pressed_kg__lte=MOST_KG, waste_kg__gte=0, waste_kg__lte=MOST_KG),
                name="recorded_fruit_is_sensible",
            ),
            models.CheckConstraint(
                condition=Q(litres_fresh__gte=0, litres_frozen__gte=0, litres_heated__gte=0, litres_to_ferment__gte=0),
                name="recorded_juice_is_none_or_some",
            ),
            # The action weighs the juice exactly; here a hair's breadth is left for how SQLite keeps decimals.
            models.CheckConstraint(
                condition=Q(
                    pressed_kg__gte=(
                        F("litres_fresh") + F("litres_frozen") + F("litres_heated") + F("litres_to_ferment")
                    )
                    * (JUICE_KG_PER_LITRE - Decimal("0.0001"))
                ),
                name="juice_weighs_no_more_than_its_fruit",
            ),
            models.CheckConstraint(
                condition=Q(hours__isnull=True) | Q(hours__gt=0, hours__lte=MOST_HOURS), name="recorded_hours_fit_a_day"
            ),
            models.CheckConstraint(
                condition=Q(reused_brought__isnull=True, reused_broken__isnull=True)
                | Q(
                    reused_brought__isnull=False,
                    reused_brought__lte=MOST_BOTTLES,
                    reused_broken__isnull=False,
                    reused_broken__lte=F("reused_brought"),
                ),
                name="broken_bottles_are_of_those_brought",
            ),
        ]
        indexes = [models.Index(fields=["day"], name="press_day_record_by_day")]

    def __str__(self) -> str:
        return f"{self.booking.village}, {self.day:%d %b %Y}"

    @property
    def litres(self) -> Decimal:
        """All of the juice."""
        return sum((getattr(self, f"litres_{use}") for use in USES), Decimal(0))

    @property
    def litres_per_kg(self) -> Decimal | None:
        """Litres from a kilogram pressed; none where nothing was pressed."""
        return self.litres / self.pressed_kg if self.pressed_kg else None

    @property
    def helper_hours(self) -> Decimal | None:
        """Hours of all hands together, where both were told."""
        return self.hours * self.helpers if self.hours is not None and self.helpers is not None else None
