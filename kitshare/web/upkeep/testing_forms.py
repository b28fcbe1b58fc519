"""What people type about a safety test with readings, and whose limits it is judged by."""

from decimal import Decimal
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from kitshare.logbook import actions as logbook
from kitshare.people.models import ElectricalRules, Scheme
from kitshare.rules.electrics import Protection, RuleSet
from kitshare.rules.instruments import LONGEST_TEXT, MEASURED, Figure, Kind, ReadingRefused, figure
from kitshare.rules.leads import LONGEST_M, Lead
from kitshare.upkeep.care_models import CareKind, CarePlan
from kitshare.upkeep.reading_models import (
    CROSS_SECTIONS,
    LONGEST_INSTRUMENT,
    MOST_HEATING_KW,
    ProtectionClass,
    SafetySheet,
)
from kitshare.upkeep.reading_words import kind_in_words, refusal_in_words
from kitshare.upkeep.testing import KINDS_OF, LONGEST_NOTE, Findings
from kitshare.web.forms import AmountField, say_what_changed
from kitshare.web.upkeep.care_forms import RecordForm

# What a limit depends on, by the kind of the test.
FACTS_OF: Final = {
    CareKind.ELECTRICAL.value: ("protection", "hand_held", "heating_kw", "lead_m", "lead_mm2"),
    CareKind.TRIP_SWITCH.value: ("portable_switch",),
}
HELP: Final = {
    Kind.EARTH: _("From the pin of the plug to bare metal. Only in class I."),
    Kind.INSULATION: _("Where the instrument shows no more, put > before it: >200."),
    Kind.LEAKAGE: _("While it runs; the touch current in class II."),
    Kind.TRIP_RATED: _("If it did not trip, write > and the time that you waited: >300."),
    Kind.TRIP_FIVE: _("If it did not trip, write > and the time that you waited: >300."),
}


class FigureField(forms.CharField):
    """What an instrument showed: with a comma or a point, with its unit or without, with > where it shows no more."""

    widget = forms.TextInput(attrs={"class": "short", "autocomplete": "off", "autocapitalize": "off"})

    def __init__(self, kind: Kind) -> None:
        label = f"{_capital(kind_in_words(kind))}, {MEASURED[kind].unit}"
        super().__init__(label=label, required=False, max_length=LONGEST_TEXT, help_text=HELP[kind])
        self.kind = kind

    def clean(self, value: Any) -> Figure | None:
        typed: str = super().clean(value)
        if not typed:
            return None
        try:
            return figure(typed, self.kind)
        except ReadingRefused as refusal:
            raise ValidationError(refusal_in_words(refusal)) from None


class LookField(forms.TypedChoiceField):
    """Whether what was looked at was as it should be; nothing where nobody looked."""

    def __init__(self, kind: Kind) -> None:
        held = kind is Kind.TRIP_HALF
        choices: list[tuple[str, str | Promise]] = [
            ("yes", _("It held") if held else _("As it should be")),
            ("no", _("It tripped") if held else _("Not as it should be")),
            ("", _("Not tried") if held else _("Not looked at")),
        ]
        super().__init__(
            label=_capital(kind_in_words(kind)),
            choices=choices,
            coerce=lambda typed: typed == "yes",
            empty_value=None,
            required=False,
            widget=forms.RadioSelect,
        )


class SafetyTestForm(RecordForm):
    """A safety test with what was read and looked at, and what its limits depend on."""

    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What else was seen or done."),
    )
    instrument = forms.CharField(
        label=_("Instrument"), required=False, max_length=LONGEST_INSTRUMENT, help_text=_("Its name or number.")
    )
    protection = forms.ChoiceField(
        label=_("Class"),
        choices=ProtectionClass.choices,
        initial=ProtectionClass.CLASS_I,
        widget=forms.RadioSelect,
        help_text=_("Class II has a square in a square on its plate."),
    )
    hand_held = forms.BooleanField(label=_("It is held in the hand while it runs"), required=False)
    heating_kw = AmountField(
        label=_("Kilowatts of heating"),
        required=False,
        min_value=0,
        max_value=MOST_HEATING_KW,
        decimal_places=2,
        max_digits=4,
        help_text=_("Of a pasteuriser, by its plate. Empty for a machine in which nothing heats."),
    )
    lead_m = AmountField(
        label=_("Metres of its lead"),
        required=False,
        min_value=0,
        max_value=LONGEST_M,
        decimal_places=2,
        max_digits=5,
        help_text=_("0 without a lead of its own. The limit of the earth depends on it."),
    )
    lead_mm2 = forms.TypedChoiceField(
        label=_("Cross-section of its lead"),
        choices=[("", _("not known")), *((str(mm2), word) for mm2, word in CROSS_SECTIONS)],
        coerce=lambda typed: next(mm2 for mm2, _word in CROSS_SECTIONS if str(mm2) == typed),
        empty_value=None,
        required=False,
        help_text=_("Stamped on the lead, such as 3G1.5."),
    )
    portable_switch = forms.BooleanField(
        label=_("It is a switch that travels, in a plug or a lead"), required=False, initial=True
    )

    def __init__(self, *args: Any, plan: CarePlan, today: Any, last: SafetySheet | None = None, **kwargs: Any) -> None:
        super().__init__(*args, plan=plan, today=today, **kwargs)
        self.kinds = KINDS_OF[plan.kind]
        self.machine_facts = FACTS_OF.get(plan.kind, ())
        for name in {name for names in FACTS_OF.values() for name in names} - set(self.machine_facts):
            del self.fields[name]
        for kind in self.kinds:
            self.fields[kind.value] = FigureField(kind) if kind in MEASURED else LookField(kind)
        if last is not None and not self.is_bound:
            self.initial.update(_as_before(last, (*self.machine_facts, "instrument")))

    def clean(self) -> dict[str, Any]:
        """A lead is described wholly or not at all."""
        typed = self.cleaned_data
        if typed.get("lead_m") is not None and typed.get("lead_mm2") is None and "lead_mm2" in typed:
            self.add_error("lead_mm2", _("Choose the cross-section too: the limit depends on both."))
        if typed.get("lead_mm2") is not None and typed.get("lead_m") is None and "lead_m" in typed:
            self.add_error("lead_m", _("Give the metres too: the limit depends on both."))
        return typed

    def looks(self) -> list[forms.BoundField]:
        return [self[kind.value] for kind in self.kinds if kind not in MEASURED]

    def figures(self) -> list[forms.BoundField]:
        return [self[kind.value] for kind in self.kinds if kind in MEASURED]

    def of_the_machine(self) -> list[forms.BoundField]:
        return [self[name] for name in self.machine_facts]

    def findings(self) -> Findings:
        """What was read and looked at, as the deed takes it."""
        typed = self.cleaned_data
        length, mm2 = typed.get("lead_m"), typed.get("lead_mm2")
        read = {kind: typed[kind.value] for kind in self.kinds if typed[kind.value] is not None}
        return Findings(
            readings=read,
            protection=Protection(typed.get("protection", Protection.CLASS_I)),
            hand_held=typed.get("hand_held", False),
            heating_kw=typed.get("heating_kw") or Decimal(0),
            lead=Lead(length_m=length, mm2=mm2) if length is not None and mm2 is not None else None,
            portable_switch=typed.get("portable_switch", True),
            instrument=typed["instrument"],
        )

    def said(self) -> dict[str, Any]:
        """What was said of the test beside its readings."""
        names = ("form_key", "seen", "done_on", "done_by_name", "passed", "note", "next_due_on")
        facts = self.facts()
        return {name: facts[name] for name in names}


class RulesForm(forms.Form):
    """Whose limits readings are compared with."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1)
    rules = forms.TypedChoiceField(
        label=_("Country of the electrical limits"),
        choices=ElectricalRules.choices,
        coerce=RuleSet,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
        help_text=_("Readings of safety tests are compared with its limits, and with those of no other country."),
    )

    def __init__(self, *args: Any, scheme: Scheme, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial.update(rules=scheme.electrical_rules, seen=logbook.newest_line(scheme))

    def refuse(self, change: logbook.ChangedMeanwhile) -> None:
        say_what_changed(self, change)


def _as_before(sheet: SafetySheet, names: tuple[str, ...]) -> dict[str, Any]:
    """The machine as it was described at the last test."""
    known = {name: getattr(sheet, name) for name in names}
    if known.get("lead_mm2") is not None:
        known["lead_mm2"] = next(str(mm2) for mm2, _word in CROSS_SECTIONS if mm2 == known["lead_mm2"])
    for name in ("heating_kw", "lead_m"):
        if known.get(name) is not None:
            known[name] = f"{known[name].normalize():f}"
    return known


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
