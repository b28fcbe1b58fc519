"""By what the scheme plans its press days: what fruit travels in, prices, the sanitiser, the hold it recommends."""

from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION
from kitshare.rules.sizing_terms import BREAKAGE_ALLOWANCE
from kitshare.rules.supplies import Sanitiser

BREAKAGE_PERCENT = (100 * BREAKAGE_ALLOWANCE).quantize(Decimal("0.1"))


class SanitiserChoice(models.TextChoices):
    """What the scheme sanitises with. None is an answer too: water of 77 °C does it as well."""

    CHLORINE = Sanitiser.CHLORINE.value, _("chlorine")
    IODINE = Sanitiser.IODINE.value, _("iodine")
    QUAT = Sanitiser.QUAT.value, _("quaternary ammonium")


def amount(default: str | None, least: str, most: str) -> dict[str, Any]:
    begins: dict[str, Any] = {} if default is None else {"default": Decimal(default)}
    return begins | {
        "validators": [MinValueValidator(Decimal(least)), MaxValueValidator(Decimal(most))],
        "max_digits": 7,
    }


class PressDayTerms(models.Model):
    """A scheme's own figures for its press days. Where one is empty, nothing is said of what it would give."""

    crate_kg = models.DecimalField(_("kilograms in a crate"), decimal_places=1, **amount("16", "1", "100"))
    sack_kg = models.DecimalField(_("kilograms in a sack"), decimal_places=1, **amount("25", "1", "100"))
    pomace_sack_kg = models.DecimalField(
        _("kilograms of spent pomace in a sack"), decimal_places=1, **amount("15", "1", "50")
    )
    bushel_kg = models.DecimalField(
        _("kilograms in a bushel"),
        decimal_places=1,
        null=True,
        blank=True,
        **amount(None, "1", "100"),
        help_text=_("A heaped bushel weighs 18 to 26 kg (39 to 57 lb) by variety. Empty: nobody counts in bushels."),
    )
    small_tree_kg = models.DecimalField(_("kilograms from a small tree"), decimal_places=1, **amount("50", "1", "1000"))
    large_tree_kg = models.DecimalField(
        _("kilograms from a large tree"), decimal_places=1, **amount("250", "1", "2000")
    )
    fruit_words = models.TextField(
        _("kinds of fruit"),
        max_length=1000,
        blank=True,
        help_text=_("One on a line, in your own words. Press days of one kind are compared with each other."),
    )
    kwh_price = models.DecimalField(
        _("price of a kilowatt-hour"),
        decimal_places=3,
        null=True,
        blank=True,
        **amount(None, "0", "1000"),
        help_text=_("Empty: plans say how much electricity, and not what it costs."),
    )
    currency = models.CharField(
        _("currency"), max_length=20, blank=True, help_text=_("As you write it, such as “euros”.")
    )
    sanitiser = models.CharField(_("sanitiser"), max_length=10, choices=SanitiserChoice, blank=True)
    sanitiser_percent = models.DecimalField(
        _("its strength, per cent"),
        decimal_places=2,
        null=True,
        blank=True,
        **amount(None, "0.1", "100"),
        help_text=_("By the label of what you buy, before it is thinned."),
    )
    pomace_to = models.TextField(
        _("where spent pomace goes"),
        max_length=500,
        blank=True,
        help_text=_("In your own words: which farm takes it, on which days."),
    )
    breakage_percent = models.DecimalField(
        _("re-used bottles over, for a hundred filled"),
        decimal_places=1,
        db_default=BREAKAGE_PERCENT,
        **amount(str(BREAKAGE_PERCENT), "0", "50"),
        help_text=_(
            "In case some are chipped, will not come clean, or break. Each press day on which they were counted moves"
            " this figure, which counts as much as 600 bottles would."
        ),
    )
    heat_target_c = models.DecimalField(
        _("recommended temperature, °C"),
        decimal_places=1,
        **amount(str(DEFAULT_RECOMMENDATION.target_c), "50", "90"),
    )
    heat_hold_minutes = models.DecimalField(
        _("recommended minutes"), decimal_places=1, **amount(str(DEFAULT_RECOMMENDATION.hold_minutes), "1", "240")
    )
    heat_source = models.CharField(_("who recommends it"), max_length=120, default=DEFAULT_RECOMMENDATION.source)

    class Meta:
        abstract = True
