"""The days to which a booking should move."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.rules.periods import Period
from kitshare.web.forms import DayField


class MoveForm(forms.Form):
    """The first day; the day back only where the booking should become longer or shorter."""

    out_on = DayField(label=_("Goes out on"))
    back_on = DayField(
        label=_("Back by the morning of"), required=False, help_text=_("Empty: as many days as it has now.")
    )

    def __init__(self, *args: Any, present: Period, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.present = present
        for field in self.fields.values():
            field.error_messages["invalid"] = gettext("Write the day as year-month-day, such as 2027-09-11.")
        self.fields["out_on"].error_messages["required"] = gettext("Give the day it goes out.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        out_on, back_on = cleaned.get("out_on"), cleaned.get("back_on")
        if out_on is None or "back_on" in self.errors:
            return cleaned
        if back_on is None:
            cleaned["period"] = self.present.shifted((out_on - self.present.start).days)
        elif back_on <= out_on:
            self.add_error("back_on", gettext("It comes back after it goes out: choose a later day."))
        else:
            cleaned["period"] = Period(start=out_on, end=back_on)
        return cleaned


class MoveItForm(MoveForm):
    """Sent from the page that looked it over: carries the revision that was looked at."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)
