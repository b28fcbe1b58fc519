"""What is asked of a batch beside its log: which bottles these are, and what the log itself does not say."""

from datetime import date
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, Part
from kitshare.pressdays.heat_models import MOST_BATCHES, MOST_BOTTLES, MOST_LITRES, HeatRecord
from kitshare.pressdays.heat_records import Batch, machines_of, next_number, probes_of
from kitshare.pressdays.models import ContainerKind
from kitshare.rules.containers import Use
from kitshare.rules.readings import TemperatureUnit, TimeForm
from kitshare.upkeep.probe_models import ProbeCheck
from kitshare.upkeep.probing import likely_probes, off_in_words
from kitshare.upkeep.words import day_with_year
from kitshare.web.forms import AmountField, DayField
from kitshare.web.heat.forms import UNITS, WHICH_UNIT

TIME_UNITS: Final = [
    (TimeForm.MINUTES.value, _("minutes")),
    (TimeForm.SECONDS.value, _("seconds")),
    (TimeForm.HOURS.value, _("hours")),
]
ROUND: Final = Decimal("0.1")


class ProbeChoice(forms.ModelChoiceField[Part]):
    """Each probe with its last check."""

    checks: dict[int, ProbeCheck]

    def label_from_instance(self, obj: Part) -> str:
        name = f"{obj.name} {obj.number}".strip()
        check = self.checks.get(obj.pk)
        if check is None:
            return name
        words = {"name": name, "reads": off_in_words(check), "day": day_with_year(check.checked_on)}
        return gettext("%(name)s: %(reads)s, checked on %(day)s") % words


class ContainerInput(forms.TextInput):
    """A text box that offers the scheme's kinds of container."""

    template_name = "heat/container_input.html"
    names: list[str] = []

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, {**(attrs or {}), "list": "containers"})
        return {**context, "names": self.names}


class BatchForm(forms.Form):
    """The questions about a log first, then the batch. What is not asked for a log is not a field."""

    unit = forms.ChoiceField(
        label=_("Are the temperatures Celsius or Fahrenheit?"),
        choices=UNITS,
        widget=forms.RadioSelect,
        help_text=_("Nothing in the log says so."),
        error_messages={"required": WHICH_UNIT},
    )
    time_unit = forms.ChoiceField(
        label=_("What are the times counted in?"),
        choices=TIME_UNITS,
        widget=forms.RadioSelect,
        help_text=_("Nothing in the log says so."),
        error_messages={"required": _("Choose what the times are counted in.")},
    )
    column = forms.TypedChoiceField(
        label=_("Which column is the juice?"),
        coerce=int,
        widget=forms.RadioSelect,
        help_text=_("The centre of the coldest bottle, not the bath."),
    )
    number = forms.IntegerField(
        label=_("Batch number of the day"),
        min_value=1,
        max_value=MOST_BATCHES,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
    )
    filled_on = DayField(label=_("Filled and heated on"))
    pasteuriser = forms.ModelChoiceField(
        label=_("Pasteuriser"), queryset=Machine.objects.none(), required=False, empty_label=_("one of our own")
    )
    probe = ProbeChoice(
        label=_("Probe"),
        queryset=Part.objects.none(),
        required=False,
        empty_label=_("one of our own, checked by nobody here"),
        help_text=_("Its last check up to that day puts the readings right."),
    )
    ph = AmountField(
        label=_("pH of the juice"),
        required=False,
        max_digits=4,
        decimal_places=2,
        help_text=_("If it was measured; the published tables end at 4.0."),
    )
    bottles = forms.IntegerField(
        label=_("How many bottles"),
        min_value=1,
        max_value=MOST_BOTTLES,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
    )
    container = forms.CharField(label=_("What kind"), max_length=80, widget=ContainerInput())
    litres = AmountField(
        label=_("Litres in all"),
        required=False,
        max_value=MOST_LITRES,
        max_digits=6,
        decimal_places=1,
        help_text=_("Left empty, it is worked out where the kind is one of the scheme's."),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2}))
    why_replaced = forms.CharField(
        label=_("Why this record replaces the older one"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Such as: the bath's column was read; or: heated again on Sunday."),
        error_messages={"required": _("Say why it replaces the older record.")},
    )

    def __init__(self, *args: Any, booking: Booking, replaces: HeatRecord | None, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.booking, self.replaces, self.today = booking, replaces, today
        self.kinds = list(ContainerKind.objects.in_use())
        self.fields["container"].widget.names = [kind.name for kind in self.kinds]
        if replaces is None:
            del self.fields["why_replaced"]
        else:
            del self.fields["number"]
        self._offer_machines()
        if not self.is_bound:
            self.initial.update(self._first_words())

    def _offer_machines(self) -> None:
        machines, parts = machines_of(self.booking), probes_of(self.booking)
        of_machines, of_parts = self.fields["pasteuriser"], self.fields["probe"]
        assert isinstance(of_machines, forms.ModelChoiceField) and isinstance(of_parts, ProbeChoice)  # noqa: S101, PT018
        of_machines.queryset = Machine.objects.filter(pk__in=[machine.pk for machine in machines]).order_by("pk")
        of_parts.checks = {check.part_id: check for check in ProbeCheck.objects.last_of(parts)}
        parts = likely_probes(parts, of_parts.checks.keys())
        of_parts.queryset = Part.objects.filter(pk__in=[part.pk for part in parts]).order_by("position", "pk")
        self.machines, self.parts = machines, parts

    def _first_words(self) -> dict[str, Any]:
        """What the form says before anybody types: as the older record did, or as is most likely."""
        old = self.replaces
        if old is not None:
            names = ("filled_on", "pasteuriser", "probe", "ph", "bottles", "container", "litres", "note")
            return {name: getattr(old, name) for name in names}
        checks = self.fields["probe"].checks  # type: ignore[attr-defined]
        return {
            "number": next_number(self.booking),
            "filled_on": max(self.booking.out_on, min(self.today, self.booking.back_on)),
            "pasteuriser": self.machines[0] if self.machines else None,
            "probe": next((part for part in self.parts if part.pk in checks), None),
            "container": self.kinds[0].name if self.kinds else "",
        }

    def ask_only(self, *, unit: bool, time_unit: bool, columns: list[tuple[int, str]]) -> None:
        """Leave out the questions that the log itself answers."""
        if not unit:
            del self.fields["unit"]
        if not time_unit:
            del self.fields["time_unit"]
        if len(columns) > 1:
            self.fields["column"].choices = columns  # type: ignore[attr-defined]
            self.initial.setdefault("column", columns[0][0])
        else:
            del self.fields["column"]

    def clean(self) -> dict[str, Any]:
        """Work the litres out where they were left empty."""
        facts = self.cleaned_data
        if facts.get("litres") is None and "litres" not in self.errors and facts.get("bottles"):
            kind = next((one for one in self.kinds if one.name == facts.get("container", "").strip()), None)
            if kind is None:
                self.add_error(
                    "litres", ValidationError(gettext("Give the litres: this kind is none of the scheme's."))
                )
            else:
                facts["litres"] = (facts["bottles"] * kind.as_rule.fill_litres(Use.HEATED)).quantize(ROUND)
        return facts

    def batch(self) -> Batch:
        """What was typed, as the deed takes it."""
        facts = self.cleaned_data
        names = ("pasteuriser", "probe", "ph", "bottles", "container", "litres", "filled_on", "note")
        number = self.replaces.number if self.replaces else facts["number"]
        return Batch(number=number, **{name: facts[name] for name in names})

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by its field, if this form has one of that name."""
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))


def answers(typed: Any) -> tuple[TemperatureUnit | None, TimeForm | None, int | None]:
    """A person's answers to what a log does not say, as far as they are answers."""
    unit, time_unit, column = (typed.get(name, "") for name in ("unit", "time_unit", "column"))
    return (
        TemperatureUnit(unit) if unit in dict(UNITS) else None,
        TimeForm(time_unit) if time_unit in dict(TIME_UNITS) else None,
        int(column) if column.isascii() and column.isdecimal() and len(column) < 6 else None,
    )
