"""What a coordinator types about the scheme's press days."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.people.models import Scheme
from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION, OTHER_RECOMMENDATIONS, Recommendation
from kitshare.web.forms import ChangeForm
from kitshare.web.pressdays.fields import MeasureField

RECOMMENDATIONS: Final = (DEFAULT_RECOMMENDATION, *OTHER_RECOMMENDATIONS)
OWN: Final = "own"
WEIGHTS: Final = ("bushel_kg", "small_tree_kg", "large_tree_kg")
MEASURES: Final = (*WEIGHTS, "kwh_price", "sanitiser_percent", "breakage_percent", "heat_target_c", "heat_hold_minutes")
HOLD: Final = ("heat_target_c", "heat_hold_minutes", "heat_source")


class PressTermsForm(ChangeForm[Scheme]):
    """The scheme's figures for press days. A known hold is ticked, or another written out with who says so."""

    hold = forms.ChoiceField(
        label=lazy("The recommended hold"),
        widget=forms.RadioSelect,
        help_text=lazy(
            "At the centre of the coldest bottle, counted from the moment it is reached."
            " Published recommendations differ."
        ),
    )

    class Meta:
        model = Scheme
        fields = [
            *WEIGHTS,
            "fruit_words",
            "kwh_price",
            "currency",
            "sanitiser",
            "sanitiser_percent",
            "pomace_to",
            "breakage_percent",
            *HOLD,
        ]
        field_classes = dict.fromkeys(MEASURES, MeasureField)
        widgets = {
            "fruit_words": forms.Textarea(attrs={"rows": 4}),
            "pomace_to": forms.Textarea(attrs={"rows": 3}),
            "currency": forms.TextInput(attrs={"class": "short", "autocomplete": "off"}),
        }

    def __init__(self, data: Mapping[str, Any] | None = None, *, instance: Scheme) -> None:
        super().__init__(data, instance=instance, label_suffix="")
        for name in MEASURES:
            value = self.initial.get(name)
            if isinstance(value, Decimal):
                self.initial[name] = f"{value.normalize():f}"
        choices = [(str(n), _in_words(one)) for n, one in enumerate(RECOMMENDATIONS)]
        self.fields["hold"] = forms.ChoiceField(
            label=self.fields["hold"].label,
            help_text=self.fields["hold"].help_text,
            choices=[*choices, (OWN, _("another, written below"))],
            widget=forms.RadioSelect,
        )
        self.initial["hold"] = next((str(n) for n, one in enumerate(RECOMMENDATIONS) if _is(one, instance)), OWN)
        for name in HOLD:
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        facts = self.cleaned_data
        chosen = facts.get("hold")
        if chosen and chosen != OWN:
            one = RECOMMENDATIONS[int(chosen)]
            for name in HOLD:
                self.errors.pop(name, None)
            facts["heat_target_c"] = Decimal(str(one.target_c))
            facts["heat_hold_minutes"] = Decimal(str(one.hold_minutes))
            facts["heat_source"] = one.source
        elif chosen == OWN:
            for name in HOLD[:2]:
                if name not in self.errors and facts.get(name) is None:
                    self.add_error(name, _("Write it out, or tick one of those above."))
        return facts

    def facts(self) -> dict[str, Any]:
        """What was settled, as the action takes it."""
        return {name: self.cleaned_data[name] for name in self.cleaned_data if name != "hold"}


def _in_words(one: Recommendation) -> str:
    words = _("%(celsius)s °C for %(minutes)s minutes: %(source)s")
    return words % {"celsius": f"{one.target_c:g}", "minutes": f"{one.hold_minutes:g}", "source": one.source}


def _is(one: Recommendation, scheme: Scheme) -> bool:
    return (one.target_c, one.hold_minutes, one.source) == (
        float(scheme.heat_target_c),
        float(scheme.heat_hold_minutes),
        scheme.heat_source,
    )
