"""Which machine's bookings to shift, by how many days, from when on."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.shifting import MOST_DAYS
from kitshare.kits.models import Machine
from kitshare.web.forms import DayField

SEEN = re.compile(r"([0-9]{1,18})-([0-9]{1,9})", re.ASCII)


class ShiftForm(forms.Form):
    """Later or earlier is asked in words: nobody has to think of a minus sign."""

    machine = forms.ChoiceField(label=_("Which machine"))
    days = forms.IntegerField(
        label=_("By how many days"),
        min_value=1,
        max_value=MOST_DAYS,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    way = forms.ChoiceField(
        label=_("Which way"),
        choices=[("later", _("later")), ("earlier", _("earlier"))],
        widget=forms.RadioSelect,
    )
    from_day = DayField(
        label=_("Bookings that go out on this day or after it"), help_text=_("Those that go out sooner stay.")
    )

    def __init__(self, *args: Any, machines: Sequence[Machine], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machines = {str(machine.pk): machine for machine in machines}
        field = self.fields["machine"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = [("", gettext("Choose a machine")), *((key, one.name) for key, one in self.machines.items())]
        field.error_messages["required"] = gettext("Choose a machine.")
        field.error_messages["invalid_choice"] = gettext("Choose one of the machines shown.")
        self.fields["days"].error_messages |= {
            "required": gettext("Give a number of days."),
            "invalid": gettext("Give a whole number of days, such as 7."),
        }
        self.fields["way"].error_messages["required"] = gettext("Choose later or earlier.")
        self.fields["from_day"].error_messages["invalid"] = gettext("Write the day as year-month-day: 2027-09-11.")
        self.initial.setdefault("from_day", today)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if "days" in cleaned:
            cleaned["by_days"] = cleaned["days"] if cleaned.get("way") == "later" else -cleaned["days"]
        return cleaned

    def asked(self) -> dict[str, Any]:
        """What the look and the deed are told."""
        cleaned = self.cleaned_data
        machine = self.machines[cleaned["machine"]]
        return {"machine": machine, "by_days": cleaned["by_days"], "from_day": cleaned["from_day"]}

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by the field that it names, or above the form."""
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))


def read_seen(typed: QueryDict) -> dict[int, int]:
    """The bookings that were looked over, each with its revision, such as "12-3"."""
    found = (SEEN.fullmatch(text) for text in typed.getlist("seen"))
    return {int(match[1]): int(match[2]) for match in found if match}
