"""What people type about the plan of a day and about containers."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.pressdays.models import LEAST_YIELD, MOST_YIELD, ContainerKind
from kitshare.pressdays.planning import Draft
from kitshare.pressdays.refusals import KindRetired, YieldNotBelieved, remainder_words
from kitshare.web.forms import WatchingForm

SHARE = "share-"


class MeasureField(forms.DecimalField):
    """A measure as people write it: "0.55" or "0,55". Drawn as text, so that no browser throws away what was typed."""

    widget = forms.TextInput

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        measure: Any = super().to_python(value)  # the stubs call it an int, as of the field it extends
        return measure  # type: ignore[no-any-return]

    def run_validators(self, value: Any) -> None:
        """One thing at a time: a number out of bounds need not also hear that it is long."""
        try:
            super().run_validators(value)
        except forms.ValidationError as refused:
            raise refused.error_list[0] from None

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "class": "short", "autocomplete": "off"}


class PartsField(forms.IntegerField):
    """Whole parts of a hundred; "40 %" is 40, and nothing is 0."""

    widget = forms.TextInput
    default_error_messages = {
        "invalid": lazy("Write whole parts of a hundred, such as 40."),
        "min_value": lazy("A share is 0 or more."),
        "max_value": lazy("A share is 100 at most."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, min_value=0, max_value=100, **kwargs)

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, str):
            value = value.strip().removesuffix("%").strip()
        return super().to_python(value)

    def clean(self, value: Any) -> int:
        return super().clean(value) or 0

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric", "class": "short", "autocomplete": "off"}


class PlanForm(forms.Form):
    """A yield, and the parts in a hundred for each kind of container that is in use or in the plan already."""

    template_name = "pressdays/plan_fields.html"

    yield_expected = MeasureField(
        label=lazy("Litres of juice from a kilogram of fruit"),
        max_digits=12,
        decimal_places=3,
        min_value=LEAST_YIELD,
        max_value=MOST_YIELD,
        help_text=lazy("Usual is 0.55. Overripe fruit may give half of it, a good mill and press 0.65."),
    )

    def __init__(self, *, draft: Draft, kinds: Iterable[ContainerKind], data: Mapping[str, Any] | None = None) -> None:
        initial: dict[str, object] = {"yield_expected": f"{draft.yield_expected.normalize():f}"}
        super().__init__(data, initial=initial, auto_id="plan-%s", label_suffix="")
        self.fields["yield_expected"].error_messages |= dict.fromkeys(
            ("invalid", "required", "min_value", "max_value", "max_digits", "max_whole_digits"), str(YieldNotBelieved())
        )
        self.kinds = {f"{SHARE}{kind.pk}": kind for kind in kinds}
        self.kept = {name for name, kind in self.kinds.items() if kind.retired_on is None or kind in draft.shares}
        for name, kind in self.kinds.items():
            if name in self.kept or self._typed(name):
                self.fields[name] = PartsField(label=kind.name)
                self.initial[name] = draft.shares.get(kind, 0)
        self.seen_revision = draft.plan.revision if draft.plan else 0
        if data is not None:
            text = str(data.get("revision", ""))
            self.seen_revision = int(text) if text.isdecimal() and len(text) < 9 else 0

    def _typed(self, name: str) -> bool:
        return str(self.data.get(name, "")).strip() not in ("", "0")

    def clean(self) -> dict[str, Any]:
        names = [name for name in self.fields if name in self.kinds]
        for name in names:
            if name not in self.kept:
                self.add_error(name, str(KindRetired(self.kinds[name])))
        if any(name.startswith(SHARE) and name not in self.kinds and self._typed(name) for name in self.data):
            self.add_error(
                None,
                _("A kind of container that you gave a share is not known here. It was left out: look the mix over."),
            )
        if not any(name in self.errors for name in names) and self.remainder:
            self.add_error(None, remainder_words(self.remainder))
        return self.cleaned_data

    @property
    def shares(self) -> dict[ContainerKind, int]:
        """The parts that could be read, for kinds that may be planned with."""
        return {
            kind: self.cleaned_data[name]
            for name, kind in self.kinds.items()
            if name in self.kept and name in self.cleaned_data
        }

    @property
    def remainder(self) -> int:
        return 100 - sum(self.shares.values())

    def draft(self) -> Draft | None:
        """What was typed, as far as it can be read, the mix complete or not; None without a yield."""
        self.full_clean()
        its_yield = self.cleaned_data.get("yield_expected")
        return None if its_yield is None else Draft(yield_expected=its_yield, shares=self.shares)

    def share_fields(self) -> list[tuple[ContainerKind, forms.BoundField]]:
        return [(kind, self[name]) for name, kind in self.kinds.items() if name in self.fields]


class ContainerKindForm(WatchingForm[ContainerKind]):
    """A kind of bottle, box or bucket."""

    class Meta:
        model = ContainerKind
        fields = ["name", "litres", "fill_fraction", "reused_glass", "usual_parts", "position"]
        field_classes = {"litres": MeasureField, "fill_fraction": MeasureField}

    def __init__(self, data: Mapping[str, Any] | None = None, instance: ContainerKind | None = None) -> None:
        super().__init__(data, instance=instance, label_suffix="")
        for name in ("litres", "fill_fraction"):
            value = self.initial.get(name)
            if isinstance(value, Decimal):
                self.initial[name] = f"{value.normalize():f}"
        self.fields["name"].help_text = lazy("Size and make-up, such as “0.75 L glass bottle, re-used”.")
        for name in ("usual_parts", "position"):
            self.fields[name].widget = forms.TextInput(
                attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}
            )

    def _get_validation_exclusions(self) -> set[str]:
        # Whether a name is taken is for the action to say, which has better words for it than the constraint.
        return super()._get_validation_exclusions() | {"name"}  # type: ignore[misc, no-any-return]
