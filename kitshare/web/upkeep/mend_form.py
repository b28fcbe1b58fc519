"""What was done to mend a fault, and what was used from the shelf."""

from functools import cached_property
from typing import Any, Final

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from kitshare.upkeep.shelf import Used
from kitshare.upkeep.shelf_models import ShelfPlace
from kitshare.upkeep.shelf_refusals import TooFewOnShelf
from kitshare.web.upkeep.forms import SpentForm, words
from kitshare.web.upkeep.shelf_forms import whole_number

ROWS: Final = 3  # whoever used more takes the rest out on the shelf's own page


class MendForm(SpentForm):
    """What was done; and in a few rows what was used, from which shelf, and how many."""

    note = words(
        _("What was done"),
        _("Say what was done: whoever retests it must know where to look."),
        help_text=_("It is not released until it was retested."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in range(1, ROWS + 1):
            self.fields[f"used_{row}"] = forms.ChoiceField(
                label=_("What"),
                choices=self._choices,
                required=False,
                error_messages={"invalid_choice": _("This is kept on no shelf. Choose again.")},
            )
            self.fields[f"count_{row}"] = whole_number(_("How many"), least=1, required=False)

    @property
    def rows(self) -> list[tuple[BoundField, BoundField]]:
        """The fields of what was used, a thing and a number each."""
        return [(self[f"used_{row}"], self[f"count_{row}"]) for row in range(1, ROWS + 1)]

    @property
    def is_open(self) -> bool:
        """Whether somebody typed something into the rows."""
        return self.is_bound and any(field.data or field.errors for row in self.rows for field in row)

    @cached_property
    def places(self) -> dict[str, ShelfPlace]:
        """Where something lies, what fits the part and the machine first. One query, where the rows are shown."""
        fault = self.fault
        found = ShelfPlace.objects.in_use().select_related("thing__part", "depot").by_depot().counted()

        def far(place: ShelfPlace) -> int:
            part = place.thing.part
            if part is None:
                return 2
            return 0 if part.pk == fault.part_id else 1 if part.machine_id == fault.machine_id else 3

        return {str(place.pk): place for place in sorted(found, key=far)}

    def clean(self) -> dict[str, Any]:
        """As the deed takes it: `used` in place of the rows."""
        typed = super().clean()
        used = []
        for row in range(1, ROWS + 1):
            key, count = typed.pop(f"used_{row}", None), typed.pop(f"count_{row}", None)
            if f"used_{row}" in self.errors or f"count_{row}" in self.errors:
                continue
            if key and count:
                used.append(Used(place=self.places[key], count=count))
            elif key:
                self.add_error(f"count_{row}", _now("Say how many were used, or choose nothing."))
            elif count:
                self.add_error(f"used_{row}", _now("Say what was used, or leave the number empty."))
        return typed | {"used": used}

    def field_of(self, refusal: Exception) -> str | None:
        """By the number of the thing of which there are too few."""
        if isinstance(refusal, TooFewOnShelf):
            for row in range(ROWS, 0, -1):
                if self[f"used_{row}"].data == str(refusal.place.pk):
                    return f"count_{row}"
        return super().field_of(refusal)

    def _choices(self) -> list[tuple[str, str]]:
        many = len({place.depot_id for place in self.places.values()}) > 1
        choices = [("", _now("nothing"))]
        for key, place in self.places.items():
            there = {"name": place.thing.name, "count": place.count, "depot": place.depot.name}  # type: ignore[attr-defined]
            text = _now("%(name)s: %(count)s there, %(depot)s") if many else _now("%(name)s: %(count)s there")
            choices.append((key, text % there))
        return choices
