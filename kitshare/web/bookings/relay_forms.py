"""What a coordinator types about a relay. Whether it can be is not asked here: the deeds say that."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.bookings.words import day_at
from kitshare.rules.periods import Period
from kitshare.web.forms import TimeOfDayField


def _revision() -> forms.IntegerField:
    return forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)


def _day(label: Any, **more: Any) -> forms.DateField:
    field = forms.DateField(label=label, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **more)
    field.error_messages["invalid"] = _("Write the day as year-month-day, such as 2027-09-11.")
    field.error_messages["required"] = _("Give the day.")
    return field


class MeetingForm(forms.Form):
    """Who carries it, where the villages meet, and when."""

    meet_time = TimeOfDayField(
        label=_("They meet at"),
        help_text=_("On the day on which the first village is done."),
        required=True,
        error_messages={"required": _("Say at what time they meet.")},
    )
    meet_at = forms.CharField(
        label=_("Where they meet"),
        max_length=200,
        help_text=_("Both villages must find it: a yard, a barn, a car park."),
        error_messages={"required": _("Say where they meet.")},
    )
    carried_by = forms.CharField(
        label=_("Who carries it"),
        max_length=120,
        help_text=_("A village or a person, and with which vehicle."),
        error_messages={"required": _("Say who carries it.")},
    )
    revision = _revision()


class RelayForm(MeetingForm):
    """Also which village hands over, and until when the second has it."""

    first = forms.ChoiceField(
        label=_("Which village hands it on"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the village that hands it on."),
            "invalid_choice": _("That booking can hand on nothing any more. Choose another."),
        },
    )
    back_on = _day(_("The second village brings it back on"))

    def __init__(self, *args: Any, firsts: Sequence[Booking], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.firsts = {f"{one.pk}-{one.revision}": one for one in firsts}
        field = self.fields["first"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = [(value, _first_in_words(one)) for value, one in self.firsts.items()]
        self.order_fields(["first", "meet_time", "meet_at", "carried_by", "back_on"])

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        first, back_on = self.firsts.get(cleaned.get("first", "")), cleaned.get("back_on")
        if first is not None and back_on is not None:
            if back_on <= first.back_on:
                self.add_error("back_on", gettext("It comes back after they meet: choose a later day."))
            else:
                cleaned["period"] = Period(start=first.back_on, end=back_on)
        return cleaned


class UndoRelayForm(forms.Form):
    """On which days the second village has the machines, once they go by the depot."""

    out_on = _day(_("The second village collects at the depot on"))
    back_on = _day(_("Back by the morning of"))
    revision = _revision()

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        out_on: date | None = cleaned.get("out_on")
        back_on: date | None = cleaned.get("back_on")
        if out_on is not None and back_on is not None:
            if back_on <= out_on:
                self.add_error("back_on", gettext("It comes back after it goes out: choose a later day."))
            else:
                cleaned["period"] = Period(start=out_on, end=back_on)
        return cleaned


def _first_in_words(booking: Booking) -> str:
    words = {
        "village": booking.village.name,
        "when": day_at(booking.back_on, booking.back_time),
        "stage": booking.get_stage_display(),
    }
    return gettext("%(village)s, done on %(when)s (%(stage)s)") % words
