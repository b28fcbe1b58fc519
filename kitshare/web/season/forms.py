"""What people type about closed days and holidays. Whether days can be closed the deeds say."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.closing import LONGEST_REASON
from kitshare.kits.models import Depot, Machine
from kitshare.rules import feasts
from kitshare.web.forms import DayField
from kitshare.web.templatetags.kitshare import day as day_words


class CloseForm(forms.Form):
    """From which day to which, and why."""

    first_day = DayField(label=_("First day closed"))
    last_day = DayField(label=_("Last day closed"), required=False, help_text=_("Empty: the one day only."))
    reason = forms.CharField(
        label=_("Why"), max_length=LONGEST_REASON, help_text=_("The villages read it wherever they meet these days.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first_day", "last_day"):
            self.fields[name].error_messages["invalid"] = gettext("Write the day as year-month-day: 2027-09-11.")
        self.fields["first_day"].error_messages["required"] = gettext("Give the first day that is closed.")
        self.fields["reason"].error_messages["required"] = gettext("Say why in a few words: the villages read it.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not cleaned.get("last_day") and "last_day" not in self.errors:
            cleaned["last_day"] = cleaned.get("first_day")
        return cleaned

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by the field that it names, or above the form."""
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, getattr(refusal, "sentence", str(refusal)))


class CloseDepotForm(CloseForm):
    """A depot: every machine that lives there stays where it is."""

    depot = forms.ChoiceField(label=_("Which depot"))

    def __init__(self, *args: Any, depots: Sequence[Depot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.depots = {str(depot.pk): depot for depot in depots}
        field = self.fields["depot"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = [(key, depot.name) for key, depot in self.depots.items()]
        field.error_messages["invalid_choice"] = gettext("Choose one of the depots shown.")
        self.order_fields(["depot"])

    def clean_depot(self) -> Depot:
        return self.depots[self.cleaned_data["depot"]]


class CloseMachinesForm(CloseForm):
    """Machines that are away to be serviced."""

    machines = forms.MultipleChoiceField(label=_("Which machines"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, offered: Sequence[Machine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = {str(machine.pk): machine for machine in offered}
        field = self.fields["machines"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101
        field.choices = [(key, machine.name) for key, machine in self.offered.items()]
        field.error_messages["invalid_choice"] = gettext("A machine you ticked is no longer lent. Tick again.")
        field.error_messages["required"] = gettext("Tick at least one machine.")
        self.order_fields(["machines"])

    def clean_machines(self) -> list[Machine]:
        return [self.offered[key] for key in self.cleaned_data["machines"]]


class CloseHolidaysForm(forms.Form):
    """Which of the holidays of a season nothing goes out on."""

    days = forms.MultipleChoiceField(label=_("Which holidays"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, named: Mapping[date, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.named = named
        field = self.fields["days"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101
        field.choices = [(day.isoformat(), f"{day_words(day)}: {name}") for day, name in named.items()]
        field.error_messages["required"] = gettext("Tick at least one holiday.")
        field.error_messages["invalid_choice"] = gettext("A day you ticked is no longer on the list. Tick again.")

    def clean_days(self) -> dict[date, str]:
        chosen = [date.fromisoformat(text) for text in self.cleaned_data["days"]]
        return {day: self.named[day] for day in chosen}

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by the days."""
        self.add_error("days", getattr(refusal, "sentence", str(refusal)))


class HolidaysForm(forms.Form):
    """A country, and a part of it where the holidays differ there."""

    country = forms.ChoiceField(label=_("Country"), required=False)
    part = forms.ChoiceField(label=_("Part of the country"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = str(self["country"].value() or "")
        parts = feasts.parts_of(asked) if asked in feasts.countries() else {}
        self._choices("country", {"": gettext("None: show no holidays"), **feasts.countries()})
        self._choices("part", {"": gettext("The whole country"), **parts})
        if not parts:
            self.fields["part"].widget = forms.HiddenInput()

    def _choices(self, name: str, choices: Mapping[str, str]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = list(choices.items())
        field.error_messages["invalid_choice"] = gettext("No holidays are known for it. Choose from the list.")
