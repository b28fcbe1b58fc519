"""What people type about containers."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as lazy

from kitshare.pressdays.models import ContainerKind, MaterialChoice
from kitshare.web.forms import WatchingForm
from kitshare.web.pressdays.fields import MeasureField

MEASURES = ("litres", "highest_fill_c", "fill_fraction", "tare_kg")


class ContainerKindForm(WatchingForm[ContainerKind]):
    """A kind of bottle, box or bucket."""

    class Meta:
        model = ContainerKind
        fields = ["name", "litres", "material", "food_grade", "highest_fill_c", "usual_use", "fill_fraction"]
        fields += ["reused_glass", "tare_kg", "per_crate", "capped", "lent", "usual_parts", "position"]
        field_classes = dict.fromkeys(MEASURES, MeasureField)

    def __init__(self, data: Mapping[str, Any] | None = None, instance: ContainerKind | None = None) -> None:
        super().__init__(data, instance=instance, label_suffix="")
        for name in MEASURES:
            value = self.initial.get(name)
            if isinstance(value, Decimal):
                self.initial[name] = f"{value.normalize():f}"
        self.fields["material"].choices = [("", lazy("unknown")), *MaterialChoice.choices]  # type: ignore[attr-defined]
        self.fields["name"].help_text = lazy("Size and make-up, such as “0.75 L glass bottle, re-used”.")
        for name in ("per_crate", "lent", "usual_parts", "position"):
            self.fields[name].widget = forms.TextInput(
                attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}
            )

    def _get_validation_exclusions(self) -> set[str]:
        # Whether a name is taken is for the action to say, which has better words for it than the constraint.
        return super()._get_validation_exclusions() | {"name"}  # type: ignore[misc, no-any-return]
