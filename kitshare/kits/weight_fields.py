"""A weight as a column: what machines and parts may weigh."""

from decimal import Decimal
from typing import Any, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

# Kilograms, to a tenth: from what weighs next to nothing to more than any yard moves by hand.
WEIGHT_BOUNDS: Final = (Decimal(0), Decimal(2000))


def weight_field(words: Any, help_text: Any) -> "models.DecimalField[Any, Any]":
    return models.DecimalField(
        words,
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text=help_text,
        validators=[MinValueValidator(WEIGHT_BOUNDS[0]), MaxValueValidator(WEIGHT_BOUNDS[1])],
    )


def weight_within_bounds() -> Q:
    return Q(weight_kg__isnull=True) | Q(weight_kg__gte=WEIGHT_BOUNDS[0], weight_kg__lte=WEIGHT_BOUNDS[1])
