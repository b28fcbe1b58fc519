"""Numbers as people type them about a press day."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as lazy

from kitshare.pressdays.models import MOST_AT_HAND


class MeasureField(forms.DecimalField):
    """A measure as people write it: "0.55" or "0,55". Drawn as text, so that no browser throws away what was typed."""

    widget = forms.TextInput

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        measure: Any = super().to_python(value)  # the stubs call it an int, as of the field it extends
        return measure  # type: ignore[no-any-return]

    def run_validators(self, value: Any) -> None:
        """One thing at a time: a number out of bounds need not also hear that it is long."""
        try:
            super().run_validators(value)
        except forms.ValidationError as refused:
            raise refused.error_list[0] from None

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "class": "short", "autocomplete": "off"}


class PartsField(forms.IntegerField):
    """Whole parts of a hundred; "40 %" is 40, and nothing is 0."""

    widget = forms.TextInput
    default_error_messages = {
        "invalid": lazy("Write whole parts of a hundred, such as 40."),
        "min_value": lazy("A share is 0 or more."),
        "max_value": lazy("A share is 100 at most."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, min_value=0, max_value=100, **kwargs)

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, str):
            value = value.strip().removesuffix("%").strip()
        return super().to_python(value)

    def clean(self, value: Any) -> int:
        return super().clean(value) or 0

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric", "class": "short", "autocomplete": "off"}


class CountField(forms.IntegerField):
    """A number of containers; nothing is 0."""

    widget = forms.TextInput
    default_error_messages = {
        "invalid": lazy("Write a whole number, such as 120."),
        "min_value": lazy("A number is 0 or more."),
        "max_value": lazy("A number is %(limit_value)s at most."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, min_value=0, max_value=MOST_AT_HAND, **kwargs)

    def clean(self, value: Any) -> int:
        return super().clean(value) or 0

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric", "class": "short", "autocomplete": "off"}
