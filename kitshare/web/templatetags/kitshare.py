"""How days, moments and amounts are written on every page. Built in: no template needs to load it."""

from datetime import date, datetime
from typing import Any

from django import template
from django.utils import dateformat, timezone

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


@register.simple_tag(takes_context=True)
def query_with(context: dict[str, Any], **changes: object) -> str:
    """This page's query string with some values changed; None takes one away."""
    query = context["request"].GET.copy()
    for name, value in changes.items():
        query.pop(name, None)
        if value is not None:
            query[name] = str(value)
    return f"?{query.urlencode()}"
