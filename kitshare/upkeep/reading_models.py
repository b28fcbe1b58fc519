"""What instruments showed at a safety test, and how each reading stood to the limit of that day."""

from decimal import Decimal
from typing import ClassVar, Final

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import ElectricalRules
from kitshare.rules.electrics import Protection
from kitshare.rules.instruments import Bound, Figure, Kind
from kitshare.rules.leads import OHM_PER_KM, Lead
from kitshare.upkeep.care_models import CareRecord

MOST_HEATING_KW: Final = Decimal(60)
LONGEST_INSTRUMENT: Final = 120


class ProtectionClass(models.TextChoices):
    CLASS_I = Protection.CLASS_I.value, _("class I: earthed")
    CLASS_II = Protection.CLASS_II.value, _("class II: doubly insulated")
    CLASS_III = Protection.CLASS_III.value, _("class III: extra-low voltage")


class ReadingKind(models.TextChoices):
    VISUAL = Kind.VISUAL.value, _("looked over")
    EARTH = Kind.EARTH.value, _("earth continuity")
    INSULATION = Kind.INSULATION.value, _("insulation resistance at 500 V")
    LEAKAGE = Kind.LEAKAGE.value, _("leakage current")
    TRIP_HALF = Kind.TRIP_HALF.value, _("holds at half the rated current (15 mA)")
    TRIP_RATED = Kind.TRIP_RATED.value, _("trips at the rated current (30 mA)")
    TRIP_FIVE = Kind.TRIP_FIVE.value, _("trips at five times the rated current (150 mA)")
    GUARD = Kind.GUARD.value, _("guards")
    INTERLOCK = Kind.INTERLOCK.value, _("interlock")


class ReadingBound(models.TextChoices):
    EXACT = Bound.EXACT.value, ""
    MORE = Bound.MORE.value, ">"
    LESS = Bound.LESS.value, "<"


CROSS_SECTIONS: Final = [(mm2, f"{mm2.normalize():f} mm²") for mm2 in OHM_PER_KM]


class SafetySheet(AddedRow):
    """What limits depended on at a test: the rules in force, and the machine as the tester described it."""

    record = models.OneToOneField(CareRecord, on_delete=models.PROTECT, related_name="sheet")
    rules = models.CharField(max_length=2, blank=True, choices=ElectricalRules)
    protection = models.CharField(_("class"), max_length=3, choices=ProtectionClass, default=ProtectionClass.CLASS_I)
    hand_held = models.BooleanField(_("held in the hand while it runs"), default=False)
    heating_kw = models.DecimalField(_("kilowatts of heating"), max_digits=4, decimal_places=2, default=Decimal(0))
    lead_m = models.DecimalField(_("metres of its lead"), max_digits=5, decimal_places=2, null=True)
    lead_mm2 = models.DecimalField(
        _("cross-section of its lead"), max_digits=3, decimal_places=2, null=True, choices=CROSS_SECTIONS
    )
    portable_switch = models.BooleanField(_("trip switch that travels"), default=True)
    instrument = models.CharField(_("instrument"), max_length=LONGEST_INSTRUMENT, blank=True)

    objects: ClassVar = OnlyAdded["SafetySheet"].as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lead_m__isnull=True, lead_mm2__isnull=True)
                | Q(lead_m__isnull=False, lead_mm2__isnull=False),
                name="test_sheet_describes_a_lead_wholly",
            )
        ]

    def __str__(self) -> str:
        return str(self.record)

    @property
    def lead(self) -> Lead | None:
        if self.lead_m is None or self.lead_mm2 is None:
            return None
        return Lead(length_m=self.lead_m, mm2=self.lead_mm2)


class SafetyReading(AddedRow):
    """One reading: a figure, or whether what was looked at was as it should be. The limit is a copy, with its source.

    `within` is empty where the rules in force gave no limit: the reading was compared with nothing.
    """

    sheet = models.ForeignKey(SafetySheet, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=12, choices=ReadingKind)
    value = models.DecimalField(max_digits=12, decimal_places=6, null=True)
    bound = models.CharField(max_length=5, choices=ReadingBound, default=ReadingBound.EXACT)
    unit = models.CharField(max_length=4, blank=True)
    as_it_should_be = models.BooleanField(null=True)
    limit_value = models.DecimalField(max_digits=12, decimal_places=6, null=True)
    limit_at_most = models.BooleanField(default=True)
    source = models.CharField(max_length=80, blank=True)
    within = models.BooleanField(null=True)

    objects: ClassVar = OnlyAdded["SafetyReading"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["sheet", "kind"], name="test_has_one_reading_of_a_kind"),
            models.CheckConstraint(
                condition=Q(value__isnull=False, as_it_should_be__isnull=True)
                | Q(value__isnull=True, as_it_should_be__isnull=False),
                name="test_reading_is_a_figure_or_a_look",
            ),
            models.CheckConstraint(
                condition=Q(within__isnull=False) | Q(limit_value__isnull=True),
                name="test_reading_with_a_limit_is_judged",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet}: {self.kind}"

    @property
    def figure(self) -> Figure | None:
        return None if self.value is None else Figure(value=self.value, bound=Bound(self.bound))

    @property
    def is_at_limit(self) -> bool:
        return self.limit_value is not None and self.value == self.limit_value and self.bound == Bound.EXACT
