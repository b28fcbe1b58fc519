"""What a row of the policy is asked: when, to whom and by which channel. A kind asks what makes sense for it."""

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.logbook import actions as logbook
from kitshare.reminders.models import Addressed, By, ReminderRow
from kitshare.reminders.policy import Said
from kitshare.reminders.refusals import PolicyRefused
from kitshare.reminders.terms import TERMS
from kitshare.web.forms import TimeOfDayField, say_what_changed

BEFORE, AFTER = "before", "after"


class RowForm(forms.Form):
    """One row. That it makes sense together the action says, in words by the field."""

    def __init__(self, data: QueryDict | None, *, row: ReminderRow) -> None:
        self.terms = TERMS[row.kind]
        self.sides: list[str] = []
        super().__init__(data, initial=_initial(row))
        if self.terms.goes_by_days:
            self._ask_days()
        if self.terms.goes_by_hours:
            self.fields["hours"] = forms.IntegerField(
                label=gettext_lazy("Hours before it runs out"),
                min_value=1,
                max_value=self.terms.hours,
                widget=forms.NumberInput(attrs={"class": "short", "inputmode": "numeric"}),
            )
        else:
            by_days = self.terms.goes_by_days
            self.fields["at"] = TimeOfDayField(
                label=gettext_lazy("At what time") if by_days else gettext_lazy("Not before"),
                required=by_days,
                help_text=gettext_lazy("By the scheme's own clock.")
                if by_days
                else gettext_lazy("By the scheme's own clock. Empty: at any hour, as soon as it is known."),
            )
        self.fields["addressed"] = forms.ChoiceField(
            label=gettext_lazy("To whom"),
            choices=[(one.value, one.label) for one in self.terms.to],
            widget=forms.RadioSelect,
        )
        self.fields["by"] = forms.ChoiceField(
            label=gettext_lazy("By which channel"),
            choices=By.choices,
            widget=forms.RadioSelect,
            help_text=gettext_lazy(
                "By mail: as the member has it; whoever has no address is telephoned. By telephone: a line on the list"
                " of calls to make."
            ),
        )
        if row.pk:
            self.fields["seen"] = forms.IntegerField(
                widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1
            )
            self.initial["seen"] = logbook.newest_line(row)

    def _ask_days(self) -> None:
        least, most, what = self.terms.least, self.terms.most, {"what": self.terms.day}
        self.sides = [side for side, has in ((BEFORE, least < 0), (AFTER, most > 0)) if has]
        words = {BEFORE: _("Days before %(what)s"), AFTER: _("Days after %(what)s")}
        self.fields["days"] = forms.IntegerField(
            label=_("Days") if len(self.sides) > 1 else words[self.sides[0]] % what,
            min_value=0,
            max_value=max(-least, most),
            help_text=gettext_lazy("0 is the day itself.") if least <= 0 <= most else "",
            widget=forms.NumberInput(attrs={"class": "short", "inputmode": "numeric"}),
        )
        if len(self.sides) > 1:
            choices = [(BEFORE, _("before %(what)s") % what), (AFTER, _("after %(what)s") % what)]
            self.fields["side"] = forms.ChoiceField(
                label=gettext_lazy("Before or after"), choices=choices, widget=forms.RadioSelect
            )

    def said(self) -> Said:
        """What was typed, as the deed takes it."""
        typed = self.cleaned_data
        days = typed.get("days")
        if days is not None and typed.get("side", self.sides[0]) == BEFORE:
            days = -days
        return {
            "addressed": typed["addressed"],
            "days": days,
            "at": typed.get("at"),
            "hours": typed.get("hours"),
            "by": typed["by"],
        }

    def refuse(self, refusal: PolicyRefused | logbook.ChangedMeanwhile) -> None:
        """Show a refusal by the field that it names, or above the form; or what somebody else changed."""
        if isinstance(refusal, logbook.ChangedMeanwhile):
            say_what_changed(self, refusal)
            return
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


def _initial(row: ReminderRow) -> dict[str, Any]:
    terms = TERMS[row.kind]
    after = row.days > 0 if row.days else terms.least >= 0
    return {
        "days": None if row.days is None else abs(row.days),
        "side": AFTER if after else BEFORE,
        "at": row.at,
        "hours": row.hours,
        "addressed": row.addressed or Addressed(terms.to[0]).value,
        "by": row.by,
    }
