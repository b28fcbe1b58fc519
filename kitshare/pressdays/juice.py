"""How much juice bookings gave: what was recorded of their days, and where nothing was, what was to be expected."""

from decimal import Decimal

from django.db.models import DecimalField, Exists, ExpressionWrapper, F, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.rules.sizing_terms import YIELD_EXPECTED

LITRES = DecimalField(max_digits=12, decimal_places=3)


def is_recorded() -> Exists:
    """Of a query of bookings: whether a day of one is recorded."""
    return Exists(PressDayRecord.objects.filter(booking=OuterRef("pk")))


def juice_litres() -> Coalesce:
    """Of a query of bookings: the litres recorded, else the kilograms asked for, times the expected yield."""
    all_uses = sum((F(f"litres_{use}") for use in USES[1:]), F(f"litres_{USES[0]}"))
    days = PressDayRecord.objects.filter(booking=OuterRef("pk")).order_by().values("booking")
    recorded = days.annotate(all_litres=Sum(ExpressionWrapper(all_uses, output_field=LITRES))).values("all_litres")
    asked = ExpressionWrapper(F("fruit_kg") * Value(YIELD_EXPECTED, LITRES), output_field=LITRES)
    return Coalesce(Subquery(recorded, output_field=LITRES), asked, Value(Decimal(0), LITRES))
