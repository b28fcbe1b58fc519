"""What the logbook is searched by."""

from datetime import date
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext_lazy as _

KINDS = [
    ("", _("anything")),
    ("kits.kit", _("a kit")),
    ("kits.machine", _("a machine")),
    ("kits.part", _("a part")),
    ("kits.depot", _("a depot")),
    ("bookings.booking", _("a booking")),
    ("upkeep.fault", _("a fault")),
    ("upkeep.careplan", _("a service or safety test")),
    ("people.village", _("a village")),
    ("people.member", _("a member")),
    ("people.scheme", _("the scheme")),
    ("reminders.reminderrow", _("a reminder")),
]


def _day(label: Any) -> forms.DateField:
    """A day of a year that people write; those at the ends of the calendar have no day before or after."""
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        validators=[MinValueValidator(date(1900, 1, 1)), MaxValueValidator(date(2999, 12, 31))],
    )


class SearchForm(forms.Form):
    """Narrows the logbook down; each field left empty asks for everything."""

    words = forms.CharField(label=_("Words in the line"), required=False, max_length=100)
    who = forms.CharField(label=_("Who did it"), required=False, max_length=120)
    kind = forms.ChoiceField(label=_("About"), required=False, choices=KINDS)
    since = _day(_("From the day"))
    until = _day(_("To the day"))

    use_required_attribute = False

    def clean_until(self) -> object:
        since, until = self.cleaned_data.get("since"), self.cleaned_data["until"]
        if since and until and until < since:
            raise forms.ValidationError(_("The last day comes before the first."))
        return until
