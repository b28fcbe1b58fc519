"""What people type about services and safety tests. Whether it makes sense, the deeds say."""

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from kitshare.logbook import actions as logbook
from kitshare.rules.servicing import next_due
from kitshare.upkeep.care_models import CareKind, CarePlan
from kitshare.upkeep.words import day_with_year, interval_in_words
from kitshare.web.forms import AmountField, ChangeForm, DayField, say_what_changed

LIMITS = ("every_kg", "every_hours", "every_outings")
LONGEST_NOTE = 1600  # with the words around it, it is also the note of the fault of a test that failed


class PlanForm(ChangeForm[CarePlan]):
    """A service or a safety test that recurs."""

    left_to_action = frozenset({"kind", "name", "every", "unit", *LIMITS})
    due_on = DayField(label=_("Due on"))
    every_kg = AmountField(label=_("Kilograms milled"), required=False, max_digits=8, decimal_places=1)
    every_hours = AmountField(label=_("Hours"), required=False, max_digits=6, decimal_places=1)
    every_outings = forms.IntegerField(
        label=_("Outings"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
    )

    class Meta:
        model = CarePlan
        fields = ["kind", "name", "every", "unit", "due_on", *LIMITS, "who", "caution"]
        widgets = {
            "kind": forms.RadioSelect,
            "every": forms.NumberInput(attrs={"class": "short", "inputmode": "numeric"}),
            "caution": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = CareKind.choices  # type: ignore[attr-defined] # without "none of them"


class NewPlanForm(PlanForm):
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_on"].label = _("First due on")
        if not self.is_bound:
            self.initial["form_key"] = uuid.uuid4()


class ChangePlanForm(PlanForm):
    reason = forms.CharField(
        label=_("Why"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Needed where the due day moves. It goes into the logbook."),
    )


class EndPlanForm(forms.Form):
    reason = forms.CharField(
        label=_("Why"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Say why it need not be done any more.")},
    )


class RecordForm(forms.Form):
    """That it was done: on which day, by whom, and what came of it."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1)
    done_on = DayField(label=_("Day on which it was done"))
    done_by_name = forms.CharField(
        label=_("Who did it"),
        max_length=120,
        help_text=_("By name. It need not be a member."),
        error_messages={"required": _("Say who did it, by name.")},
    )
    outcome = forms.ChoiceField(
        label=_("What came of it"),
        choices=[("passed", _("Passed")), ("failed", _("Failed: the machine is set aside at once"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose whether it passed.")},
    )
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What was looked at and measured, with which instrument; what was done."),
    )
    next_due_on = DayField(label=_("Due next on"), required=False)

    def __init__(self, *args: Any, plan: CarePlan, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.auto_id = "record_%s"
        if not plan.is_test:
            del self.fields["outcome"]
        words = {
            "interval": interval_in_words(plan.interval),
            "day": day_with_year(next_due(today, plan.interval)),
        }
        said = _now("Left empty, it goes by its interval (%(interval)s): %(day)s if it was done today.") % words
        if plan.is_test:
            said += " " + _now("A test that failed stays due until it is passed.")
        self.fields["next_due_on"].help_text = said
        if not self.is_bound:
            self.initial.update(form_key=uuid.uuid4(), seen=logbook.newest_line(plan), done_on=today)

    def facts(self) -> dict[str, Any]:
        """What was typed, as the deed takes it."""
        typed = dict(self.cleaned_data)
        passed = typed.pop("outcome", "passed") == "passed"
        return typed | {"passed": passed}

    def refuse(self, refusal: Exception) -> None:
        """Show why it was refused by the field that it names, or above the form."""
        if isinstance(refusal, logbook.ChangedMeanwhile):
            say_what_changed(self, refusal)
            return
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))
