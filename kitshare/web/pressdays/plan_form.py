"""What people type about their press day: fruit, what becomes of the juice, what it goes into, what is at hand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.bookings.actions import weigh
from kitshare.bookings.models import Booking, FruitUnitChoice
from kitshare.bookings.refusals import FruitNotSensible
from kitshare.people.models import Scheme
from kitshare.pressdays.models import LEAST_YIELD, MOST_SORTED_OUT, MOST_YIELD, ContainerKind, UseChoice
from kitshare.pressdays.planning import recommendation_of
from kitshare.pressdays.refusals import (
    FruitChangedMeanwhile,
    KindRetired,
    KindTwice,
    OfAPart,
    PlanChangedMeanwhile,
    PlanRefused,
    SortingNotSensible,
    YieldNotBelieved,
    may_not_hold,
    remainder_words,
)
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.rules.containers import Use, refusals
from kitshare.web.forms import AmountField
from kitshare.web.pressdays.fields import CountField, MeasureField, PartsField

MOST_ROWS: Final = 6
AT_HAND: Final = "at_hand-"
OUT_OF_BOUNDS: Final = ("invalid", "required", "min_value", "max_value", "max_digits", "max_whole_digits")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the form: a part of the juice for one use, and the kind of container for it."""

    use: Use
    percent: str
    kind: str


class WordInput(forms.TextInput):
    """A text box that offers the scheme's own words."""

    template_name = "pressdays/word_input.html"

    def __init__(self, offered: Iterable[str]) -> None:
        super().__init__(attrs={"autocomplete": "off"})
        self.offered = list(offered)

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, {**(attrs or {}), "list": "fruit-words"})
        return {**context, "offered": self.offered}


class PlanForm(forms.Form):
    """All that a village says of its press day. It never saves."""

    fruit_amount = AmountField(
        label=lazy("Fruit you expect to pick"), min_value=Decimal("0.1"), max_value=Decimal(50_000), decimal_places=1
    )
    fruit_unit = forms.ChoiceField(label=lazy("Measured in"), choices=FruitUnitChoice.choices)
    fruit_word = forms.CharField(label=lazy("Kind of fruit"), max_length=60, required=False)
    sorted_out_percent = PartsField(
        label=lazy("Sorted out before the mill, in a hundred"), help_text=lazy("Rotten and mouldy fruit. 5 is usual.")
    )
    yield_expected = MeasureField(
        label=lazy("Litres from a kilogram, if you know better"),
        max_digits=12,
        decimal_places=3,
        min_value=LEAST_YIELD,
        max_value=MOST_YIELD,
        required=False,
        help_text=lazy("Empty: by the forecast. Overripe fruit may give 0.3, a good mill and press 0.65."),
    )

    def __init__(
        self,
        *,
        booking: Booking,
        wanted: Wanted,
        kinds: Sequence[ContainerKind],
        scheme: Scheme,
        data: Mapping[str, Any] | None = None,
    ) -> None:
        initial = {
            "fruit_amount": f"{booking.fruit_amount.normalize():f}",
            "fruit_unit": booking.fruit_unit,
            "fruit_word": wanted.fruit_word,
            "sorted_out_percent": wanted.sorted_out_percent,
            "yield_expected": "" if wanted.yield_expected is None else f"{wanted.yield_expected.normalize():f}",
        }
        super().__init__(data, initial=initial, auto_id="plan-%s", label_suffix="")
        self.kinds = {str(kind.pk): kind for kind in kinds}
        self.scheme, self.before, self.heat = scheme, wanted, recommendation_of(scheme)
        self.fruit_was = f"{booking.fruit_amount} {booking.fruit_unit}" if data is None else str(data.get("fruit_was"))
        self.seen_revision = wanted.plan.revision if wanted.plan else 0
        if data is not None:
            text = str(data.get("revision", ""))
            self.seen_revision = int(text) if text.isdecimal() and len(text) < 9 else 0
        self._fit_fields(booking)
        self.rows = [row for use in UseChoice for row in self._rows_of(Use(use))]
        self._at_hand_fields()

    def _fit_fields(self, booking: Booking) -> None:
        """Offer what this scheme counts in and calls its fruit; say in our own words what is out of bounds."""
        if self.scheme.bushel_kg is None and booking.fruit_unit != FruitUnitChoice.BUSHEL:
            choices = [choice for choice in FruitUnitChoice.choices if choice[0] != FruitUnitChoice.BUSHEL]
            self.fields["fruit_unit"] = forms.ChoiceField(label=self.fields["fruit_unit"].label, choices=choices)
        self.fields["fruit_word"].widget = WordInput(self.scheme.fruit_words.splitlines())
        refusal = dict.fromkeys(OUT_OF_BOUNDS, str(YieldNotBelieved()))
        self.fields["yield_expected"].error_messages.update(refusal)
        self.fields["sorted_out_percent"].error_messages.update(invalid=str(SortingNotSensible()))

    def _rows_of(self, use: Use) -> list[Row]:
        had = [part for part in self.before.parts if part.use is use]
        sent = [n for n in range(MOST_ROWS) if f"percent-{use}-{n}" in self.data]
        number = max(len(had), 1, *[n + 1 for n in sent]) + (str(self.data.get("more")) == use)
        rows = []
        for n in range(min(number, max(MOST_ROWS, len(had)))):
            row = Row(use=use, percent=f"percent-{use}-{n}", kind=f"kind-{use}-{n}")
            label = UseChoice(use).label
            self.fields[row.percent] = PartsField(label=_("%(use)s, parts in a hundred") % {"use": label})
            self.fields[row.kind] = forms.ChoiceField(
                label=_("%(use)s, into") % {"use": label},
                choices=self._choices(str(self.data.get(row.kind, ""))),
                required=False,
                error_messages={"invalid_choice": _("This kind of container is not known here. Choose another.")},
            )
            if n < len(had):
                self.initial.update({row.percent: had[n].percent, row.kind: str(had[n].kind.pk)})
            else:
                self.initial.update({row.percent: 0, row.kind: self._usual_kind(use) if n == 0 else ""})
            rows.append(row)
        return rows

    def _choices(self, typed: str) -> list[tuple[str, str]]:
        """Kinds in use, those that the plan has, and the one that was typed, so that it is not lost."""
        had = {part.kind for part in self.before.parts}
        return [
            ("", _("choose a container")),
            *((key, kind.name) for key, kind in self.kinds.items() if self._offered(kind, had) or key == typed),
        ]

    def _offered(self, kind: ContainerKind, had: Iterable[ContainerKind]) -> bool:
        return kind.retired_on is None or kind in had

    def _usual_kind(self, use: Use) -> str:
        fits = (key for key, kind in self.kinds.items() if kind.retired_on is None and kind.usual_use == use)
        return next(fits, "")

    def _at_hand_fields(self) -> None:
        self.own = {}
        for key, kind in self.kinds.items():
            if self._offered(kind, self.before.at_hand) or self.data.get(f"{AT_HAND}{key}"):
                self.fields[f"{AT_HAND}{key}"] = CountField(label=kind.name)
                self.initial[f"{AT_HAND}{key}"] = self.before.at_hand.get(kind, 0)
                self.own[kind] = f"{AT_HAND}{key}"

    def clean(self) -> dict[str, Any]:
        self._clean_fruit()
        self._clean_sorting()
        for row, part in self._parts().items():
            if why := self._why_not(row, part):
                self.add_error(row.kind, why)
        for row in self.rows:
            if self.cleaned_data.get(row.percent) and self.cleaned_data.get(row.kind) == "":
                self.add_error(row.kind, _("Choose what this juice goes into."))
        if not any(row.percent in self.errors for row in self.rows) and self.remainder:
            self.add_error(None, remainder_words(self.remainder))
        return self.cleaned_data

    def _clean_fruit(self) -> None:
        self.kg: Decimal | None = None
        counted = self.fruit
        if counted is not None:
            try:
                _amount, self.kg = weigh(amount=counted[0], unit=counted[1], scheme=self.scheme)
            except FruitNotSensible as refused:
                self.add_error(refused.field, str(refused))

    def _clean_sorting(self) -> None:
        if self.cleaned_data.get("sorted_out_percent", 0) > MOST_SORTED_OUT:
            self.add_error("sorted_out_percent", str(SortingNotSensible()))

    def _why_not(self, row: Row, part: Part) -> str:
        same = [other for other in self.rows if other.use is row.use and other.percent != row.percent]
        earlier = [self._parts().get(other) for other in same if other.percent < row.percent]
        if any(other and other.kind == part.kind for other in earlier):
            return str(KindTwice(part.kind))
        if not self._offered(part.kind, {one.kind for one in self.before.parts}):
            return str(KindRetired(part.kind))
        reasons = refusals(part.kind.as_rule, part.use, heat_c=self.heat.target_c)
        return may_not_hold(part, reasons) if reasons else ""

    def _parts(self) -> dict[Row, Part]:
        """The parts that can be read, line by line."""
        found = {}
        for row in self.rows:
            kind = self.kinds.get(str(self.data.get(row.kind, "")))
            percent = self.cleaned_data.get(row.percent)
            if kind and percent:
                found[row] = Part(use=row.use, kind=kind, percent=percent)
        return found

    def readable_parts(self) -> dict[Row, Part]:
        """The parts that can be read, line by line; of a form that nobody has typed in yet, those it began with."""
        if self.is_bound:
            return self._parts()
        began = {row: (self.initial[row.percent], self.kinds.get(str(self.initial[row.kind]))) for row in self.rows}
        return {
            row: Part(use=row.use, kind=kind, percent=percent)
            for row, (percent, kind) in began.items()
            if kind and percent
        }

    @property
    def remainder(self) -> int:
        return 100 - sum(self.cleaned_data.get(row.percent) or 0 for row in self.rows)

    @property
    def fruit(self) -> tuple[Decimal, str] | None:
        """The fruit as it was counted, if it can be read."""
        amount, unit = self.cleaned_data.get("fruit_amount"), self.cleaned_data.get("fruit_unit")
        return (amount, unit) if amount is not None and unit else None

    @property
    def seen_fruit(self) -> tuple[Decimal, str] | None:
        """The fruit that the page showed when it was opened; None where that cannot be read."""
        amount, _gap, unit = self.fruit_was.partition(" ")
        try:
            return Decimal(amount[:12]), unit
        except InvalidOperation:
            return None

    def wanted(self) -> Wanted | None:
        """What was typed, as far as it can be read, shared out or not; None without fruit or with a wrong yield."""
        self.full_clean()
        facts = self.cleaned_data
        if self.kg is None or "yield_expected" not in facts or "sorted_out_percent" not in facts:
            return None
        return Wanted(
            parts=tuple(self._parts().values()),
            at_hand={kind: facts[name] for kind, name in self.own.items() if facts.get(name)},
            yield_expected=facts["yield_expected"],
            fruit_word=facts.get("fruit_word", "").strip(),
            sorted_out_percent=facts["sorted_out_percent"],
            fruit_kg=self.kg,
        )

    def refuse(self, refused: PlanRefused) -> None:
        """Say what the action refused by the field that it names."""
        if isinstance(refused, PlanChangedMeanwhile):
            self.seen_revision = refused.plan.revision
        if isinstance(refused, FruitChangedMeanwhile):
            self.fruit_was = f"{refused.booking.fruit_amount} {refused.booking.fruit_unit}"
        name = refused.field
        if isinstance(refused, OfAPart):
            name = next((row.kind for row, part in self._parts().items() if part.kind == refused.kind), None)
        self.add_error(name, str(refused))
