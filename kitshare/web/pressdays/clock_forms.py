"""What people type about the hands and hours of a press day."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from kitshare.pressdays.clock import ClockChangedMeanwhile, ClockRefused, EndsBeforeItStarts, Hours, TooManyOrNone
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.rules.crew import MOST_HELPERS
from kitshare.web.forms import TimeOfDayField


class HoursForm(forms.Form):
    """Helpers, from when till when, and one pasteuriser more or not."""

    helpers = forms.IntegerField(
        label=_("Helpers"),
        min_value=1,
        max_value=MOST_HELPERS,
        help_text=_("Pairs of hands, yours counted."),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
    )
    starts_at = TimeOfDayField(label=_("Start"), required=True, help_text=_("When everybody is there."))
    ends_at = TimeOfDayField(
        label=_("End"), required=True, help_text=_("When the light goes or the kit leaves, whichever is first.")
    )
    one_more_bath = forms.BooleanField(
        label=_("Reckon with one more pasteuriser"),
        required=False,
        help_text=_("Whether it can be had, the coordinator says."),
    )

    def __init__(self, *, hours: Hours, saved: ClockPlan | None, data: Mapping[str, Any] | None = None) -> None:
        initial = {
            "helpers": hours.helpers,
            "starts_at": hours.starts_at,
            "ends_at": hours.ends_at,
            "one_more_bath": hours.one_more_bath,
        }
        super().__init__(data, initial=initial, auto_id="clock-%s", label_suffix="")
        refused = str(TooManyOrNone())
        self.fields["helpers"].error_messages |= dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), refused
        )
        self.seen_revision = saved.revision if saved else 0
        if data is not None:
            text = str(data.get("revision", ""))
            self.seen_revision = int(text) if text.isdecimal() and text.isascii() and len(text) < 9 else 0

    def clean(self) -> dict[str, Any]:
        start, end = self.cleaned_data.get("starts_at"), self.cleaned_data.get("ends_at")
        if start and end and (start.hour, start.minute) >= (end.hour, end.minute):
            self.refuse(EndsBeforeItStarts())
        return self.cleaned_data

    def refuse(self, refused: ClockRefused) -> None:
        """Show why it cannot be, by its field. Sent again, the form goes by what can be read now."""
        self.add_error(refused.field, str(refused))
        if isinstance(refused, ClockChangedMeanwhile):
            self.seen_revision = refused.plan.revision

    @property
    def hours(self) -> Hours | None:
        """What was typed; None where it cannot be."""
        if not self.is_valid():
            return None
        return Hours(**{name: self.cleaned_data[name] for name in self.fields})
