"""What people type about the weights of a machine, its boxes and its parts."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.kits.code_models import TARE_BOUNDS, Code, box_key
from kitshare.kits.models import Machine, Part
from kitshare.kits.weighing import Weighed
from kitshare.kits.weight_fields import WEIGHT_BOUNDS
from kitshare.web.forms import AmountField
from kitshare.web.kits.facts import figure_words
from kitshare.web.kits.forms import FactsForm, say_bounds


@dataclass(frozen=True, slots=True)
class BoxOfForm:
    """A place with the fields of its parts; its own where it is a box that has a code."""

    name: str
    fields: list[forms.BoundField]


class WeightsForm(FactsForm):
    """The weights of a machine, of its empty boxes and of one of each of its parts."""

    class Meta:
        model = Machine
        fields = ["weight_kg"]
        field_classes = {"weight_kg": AmountField}
        labels = {"weight_kg": gettext_lazy("The machine itself")}

    def __init__(self, *args: Any, parts: Iterable[Part], boxes: Iterable[Code], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parts, self.boxes = list(parts), {box.box_key: box for box in boxes}
        say_bounds(self.fields["weight_kg"], WEIGHT_BOUNDS)
        self.initial["weight_kg"] = figure_words(self.instance.weight_kg)
        self.things: dict[str, Weighed] = {"weight_kg": self.instance}
        for key in dict.fromkeys(box_key(part.packed_in) for part in self.parts):
            if key in self.boxes:
                self._add(f"box-{self.boxes[key].pk}", self.boxes[key], _("The empty box"), TARE_BOUNDS)
        for part in self.parts:
            label = _("%(part)s, each") % {"part": part.name} if part.expected_count > 1 else part.name
            self._add(f"part-{part.pk}", part, label, WEIGHT_BOUNDS)

    def _add(self, name: str, thing: Part | Code, label: str, bounds: tuple[Decimal, Decimal]) -> None:
        field = AmountField(
            label=label,
            required=False,
            min_value=bounds[0],
            max_value=bounds[1],
            max_digits=5,
            decimal_places=1,
            show_hidden_initial=True,
        )
        say_bounds(field, bounds)
        self.fields[name] = field
        self.things[name] = thing
        self.initial[name] = figure_words(thing.tare_kg if isinstance(thing, Code) else thing.weight_kg)

    def places(self) -> list[BoxOfForm]:
        """The parts by where they travel, in the order in which one packs."""
        found: dict[str, BoxOfForm] = {}
        for part in self.parts:
            key = box_key(part.packed_in)
            if key not in found:
                own = [self[f"box-{self.boxes[key].pk}"]] if key in self.boxes else []
                found[key] = BoxOfForm(part.packed_in.strip(), own)
            found[key].fields.append(self[f"part-{part.pk}"])
        return list(found.values())

    def weights(self) -> dict[Weighed, Decimal | None]:
        """What was changed, by the thing that weighs so."""
        return {self.things[name]: kg for name, kg in self.changed_facts.items()}
