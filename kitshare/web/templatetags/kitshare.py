"""How days, moments and amounts are written on every page. Built in: no template needs to load it."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.utils import dateformat, formats, timezone
from django.utils.translation import gettext, ngettext

from kitshare.rules.units import Amount, Unit, UnitSystem, in_system

register = template.Library()


@register.filter
def day(value: date | None) -> str:
    """A day with its weekday, such as "Sat 12 Sep"; the year only where it is not this one."""
    if value is None:
        return ""
    pattern = "D j M" if value.year == timezone.localdate().year else "D j M Y"
    return dateformat.format(value, pattern)


@register.filter
def moment(value: datetime | None) -> str:
    """A moment in the scheme's time, such as "Sat 12 Sep, 14:05"."""
    if value is None:
        return ""
    local = timezone.localtime(value)
    return f"{day(local.date())}, {local:%H:%M}"


@register.filter
def grouped(value: int) -> str:
    """A count as people write it, such as "1,900"."""
    return formats.number_format(value, use_l10n=True, force_grouping=True)


@register.simple_tag(takes_context=True)
def query_with(context: dict[str, Any], **changes: object) -> str:
    """This page's query string with some values changed; None takes one away."""
    query = context["request"].GET.copy()
    for name, value in changes.items():
        query.pop(name, None)
        if value is not None:
            query[name] = str(value)
    return f"?{query.urlencode()}"


@register.simple_tag(takes_context=True)
def weight(context: dict[str, Any], kg: Decimal | float | None) -> str:
    """A mass as the scheme reads it, such as "220 kg" or "485 lb"."""
    return "" if kg is None else in_units(_system(context), kg=Decimal(str(kg)))


@register.simple_tag(takes_context=True)
def volume(context: dict[str, Any], litres: Decimal | float | None) -> str:
    """A volume as the scheme reads it, such as "1,875 litres" or "412 gallons"."""
    return "" if litres is None else in_units(_system(context), litres=Decimal(str(litres)))


def in_units(system: UnitSystem, *, kg: Decimal | None = None, litres: Decimal | None = None) -> str:
    """A mass or a volume in a system's units and words, for sentences that are made in Python."""
    if kg is not None:
        return _amount(in_system(system=system, kg=kg))
    return _amount(in_system(system=system, litres=litres or Decimal(0)))


def _system(context: dict[str, Any]) -> UnitSystem:
    scheme = context.get("scheme")
    return UnitSystem(scheme.units) if scheme else UnitSystem.METRIC


def _amount(amount: Amount) -> str:
    """The figure with its unit's word, on one line: the space between them does not break."""
    number = formats.number_format(amount.value, use_l10n=True, force_grouping=True)
    words = {
        Unit.KG: gettext("kg"),
        Unit.LB: gettext("lb"),
        Unit.LITRE: ngettext("litre", "litres", 1 if amount.value == 1 else 2),
        Unit.IMPERIAL_GALLON: ngettext("gallon", "gallons", 1 if amount.value == 1 else 2),
        Unit.US_GALLON: ngettext("US gallon", "US gallons", 1 if amount.value == 1 else 2),
    }
    return f"{number}\N{NO-BREAK SPACE}{words[amount.unit]}"
