"""What people type about the waiting list."""

from typing import Any, Final

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.waiting_models import MOST_PLAY_DAYS

REASON: Final = 300


class PlayField(forms.TypedChoiceField):
    """How many days earlier or later would do too."""

    def __init__(self) -> None:
        words = {
            0: _("only these days"),
            1: _("or a day earlier or later"),
            2: _("or up to two days earlier or later"),
            3: _("or up to three days earlier or later"),
        }
        choices = [(days, words[days]) for days in range(MOST_PLAY_DAYS + 1)]
        super().__init__(label=_("Would days beside these do too?"), choices=choices, coerce=int, initial=0)


class WaitForm(forms.Form):
    """Asked of whoever would wait for days that are taken."""

    play_days = PlayField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        messages = self.fields["play_days"].error_messages
        messages["required"] = messages["invalid_choice"] = gettext("Choose one of the answers shown.")


class WaitingDeedForm(forms.Form):
    """A deed on a booking that waits, as it was shown."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)
    reason = forms.CharField(label=_("Reason"), max_length=REASON, widget=forms.Textarea(attrs={"rows": 3}))


class OutOfTurnForm(WaitingDeedForm):
    """The order is not overruled without saying why."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = _("It stands in the logbook, and those passed over may read it.")
        self.fields["reason"].error_messages["required"] = gettext("Say why: it stands in the logbook.")


class OrderForm(OutOfTurnForm):
    """Where to, and why."""

    where = forms.ChoiceField(
        label=_("Move to"),
        choices=[("earlier", _("one place earlier")), ("later", _("one place later"))],
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        messages = self.fields["where"].error_messages
        messages["required"] = messages["invalid_choice"] = gettext("Choose: one place earlier, or one later.")
        self.order_fields(["where", "reason"])


class LeaveForm(WaitingDeedForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = False
