"""What people type about depots, kits, machines and parts. Actions save it, never the forms."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import FIGURE_BOUNDS, Depot, Kit, Machine, Part
from kitshare.kits.starter import STARTER_MACHINES
from kitshare.kits.weight_fields import WEIGHT_BOUNDS
from kitshare.web.forms import AmountField, Things, WatchingForm
from kitshare.web.kits.facts import figure_words

REFUSED_NUMBERS = ("invalid", "min_value", "max_value", "max_digits", "max_decimal_places", "max_whole_digits")


class FactsForm(WatchingForm[Any]):
    """Reads facts by a model's own rules.

    A form that changes something carries what it showed, so that what somebody else changed in another field while it
    lay open is not changed back.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            for field in self.fields.values():
                field.show_hidden_initial = True

    @property
    def changed_facts(self) -> dict[str, Any]:
        """Only what was changed in this form."""
        return {name: self.cleaned_data[name] for name in self.changed_data if name != "seen"}

    @property
    def seen(self) -> int | None:
        """How far the thing's history had come when the form was opened."""
        seen: int | None = self.cleaned_data["seen"]
        return seen

    def validate_unique(self) -> None:
        """Left to the action: it says so in its own words, also where somebody takes the name this very moment."""


def _few_lines(rows: int = 3) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class DepotForm(FactsForm):
    class Meta:
        model = Depot
        fields = ["name", "directions"]


class KitForm(FactsForm):
    """A kit. Its depot must be one of ours."""

    class Meta:
        model = Kit
        fields = ["name", "depot", "shape", "care_days", "note"]
        widgets = {"note": _few_lines(), "shape": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        depots = self.fields["depot"]
        assert isinstance(depots, forms.ModelChoiceField)  # noqa: S101 - for the reader and the type checker
        depots.queryset = Depot.objects.order_by("name", "pk")
        if depots.queryset.count() == 1:
            depots.initial = depots.queryset.get()


class MachineForm(FactsForm):
    class Meta:
        model = Machine
        fields = ["name", "kind", "caution"]
        widgets = {"caution": _few_lines()}


class FiguresForm(FactsForm):
    """What a machine of its kind does and draws: only the figures that such a machine has."""

    class Meta:
        model = Machine
        fields = list(FIGURE_BOUNDS)
        field_classes = {"cheese_kg": AmountField, "bath_litres": AmountField, "loss_w_per_k": AmountField}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (least, most) in FIGURE_BOUNDS.items():
            if name not in self.instance.figures:
                del self.fields[name]
                continue
            words = _("Give a number from %(least)s to %(most)s, or leave it empty.")
            if not isinstance(self.fields[name], AmountField):
                words = _("Give a whole number from %(least)s to %(most)s, or leave it empty.")
                self.fields[name].widget = forms.TextInput(
                    attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}
                )
            said = words % {"least": least, "most": most}
            self.fields[name].error_messages |= dict.fromkeys(REFUSED_NUMBERS, said)
            self.initial[name] = figure_words(self.initial.get(name))
        self.order_fields(self.instance.figures)


class PartForm(FactsForm):
    """A part. Its spares are counted on the shelf."""

    also_serves = Things(
        queryset=Machine.objects.none(),
        label=_("Also serves"),
        help_text=_("Other machines of the kit that share it. It travels once, with the first booked that it serves."),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = Part
        fields = [
            "name",
            "number",
            "kind",
            "expected_count",
            "also_serves",
            "packed_in",
            "weight_kg",
            "caution",
            "look_for",
        ]
        field_classes = {"weight_kg": AmountField}
        widgets = {"kind": forms.RadioSelect, "caution": _few_lines(), "look_for": _few_lines()}
        error_messages = {
            "expected_count": dict.fromkeys(
                ("invalid", "min_value", "max_value"), _("Give a whole number from 1 to 1000.")
            )
        }

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_bounds(self.fields["weight_kg"], WEIGHT_BOUNDS)
        self.initial["weight_kg"] = figure_words(self.initial.get("weight_kg"))
        others = Machine.objects.filter(kit=machine.kit_id).exclude(pk=machine.pk)
        field = self.fields["also_serves"]
        assert isinstance(field, forms.ModelMultipleChoiceField)  # noqa: S101 - for the reader and the type checker
        field.queryset = others.order_by("position", "pk")
        if not others.exists():
            del self.fields["also_serves"]


def say_bounds(field: forms.Field, bounds: tuple[Decimal, Decimal]) -> None:
    """Say in one sentence what a weight may be, whatever is wrong with what was typed."""
    words = _("Give kilograms from %(least)s to %(most)s with one decimal at most, or leave it empty.")
    field.error_messages |= dict.fromkeys(REFUSED_NUMBERS, words % {"least": bounds[0], "most": bounds[1]})


class PictureForm(forms.Form):
    """A picture of a part. What it holds is looked at by the deed, not by its name."""

    picture = forms.FileField(
        label=_("Picture"),
        help_text=_("JPEG, PNG or WebP. The part as it looks when it is sound, filling the picture."),
        allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages={"required": _("Choose a picture first.")},
    )


class RetireForm(forms.Form):
    """Why something is taken out of use."""

    reason = forms.CharField(
        label=_("Why"), required=False, max_length=500, widget=_few_lines(2), help_text=_("Goes into the logbook.")
    )


class StarterForm(forms.Form):
    """Which machines of the starter list to add."""

    machines = forms.MultipleChoiceField(
        label=_("Machines to add"),
        choices=[(starter.kind.value, starter.name) for starter in STARTER_MACHINES],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one machine.")},
    )
