"""What people type about what a day gave, in the units that their scheme reads."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.pressdays.record_models import (
    MOST_BATCHES,
    MOST_BOTTLES,
    MOST_HELPERS,
    MOST_HOURS,
    MOST_KG,
    USES,
    Given,
    PressDayRecord,
)
from kitshare.pressdays.record_refusals import MoreThanItsFruit, RecordRefused
from kitshare.rules.units import MASS_UNIT, VOLUME_UNIT, Amount, Unit, UnitSystem, convert
from kitshare.web.forms import AmountField, Things
from kitshare.web.templatetags.kitshare import day, in_units

MASSES = ("pressed_kg", "waste_kg")
VOLUMES = tuple(f"litres_{use}" for use in USES)
HUNDREDTHS = Decimal("0.01")
MOST_DAYS = 60  # to choose from, the last ones, where a kit stayed out for months


class CountField(forms.IntegerField):
    """A whole number, typed with the digits of a phone."""

    widget = forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"})


class DayForm(forms.Form):
    """What one day of a booking gave. `correcting` is the record to correct; without it, a new one is made."""

    day = forms.TypedChoiceField(label=lazy("Which day"), coerce=parse_date)
    pressed_kg = AmountField(
        help_text=lazy("What went through the mill, without what was sorted out. 0 when nothing was.")
    )
    litres_fresh = AmountField(required=False)
    litres_frozen = AmountField(required=False)
    litres_heated = AmountField(required=False)
    litres_to_ferment = AmountField(required=False)
    waste_kg = AmountField(required=False)
    hours = AmountField(label=lazy("Hours"), required=False)
    helpers = CountField(label=lazy("Helpers"), required=False)
    batches = CountField(label=lazy("Batches heated"), required=False)
    reused_brought = CountField(label=lazy("Brought"), required=False)
    reused_broken = CountField(label=lazy("Of these broken, chipped or not clean"), required=False)
    fruit = forms.CharField(
        label=lazy("Kind of fruit"),
        required=False,
        max_length=60,
        help_text=lazy("A few words, such as “Mixed windfalls”. The same words let the scheme compare."),
        widget=forms.TextInput(attrs={"list": "kinds-of-fruit", "autocomplete": "off"}),
    )
    machines = Things(
        queryset=Machine.objects.none(),
        label=lazy("Machines used"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(
        label=lazy("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        booking: Booking,
        days: Sequence[date],
        units: str,
        correcting: PressDayRecord | None = None,
    ) -> None:
        super().__init__(data, label_suffix="")
        self.system = UnitSystem(units)
        self.mass, self.volume = MASS_UNIT[self.system], VOLUME_UNIT[self.system]
        self.fields["day"].choices = [(one.isoformat(), day(one)) for one in days]  # type: ignore[attr-defined]
        self.fields["day"].error_messages["invalid_choice"] = _("The kit was not with you on that day. Choose another.")
        self._measured("pressed_kg", lazy("Fruit pressed"), self.mass)
        self._measured("waste_kg", lazy("Sorted out"), self.mass)
        for name in VOLUMES:
            self._measured(name, str(PressDayRecord._meta.get_field(name).verbose_name).capitalize(), self.volume)  # type: ignore[union-attr]
        self._bounded("hours", Decimal("0.1"), MOST_HOURS)
        self._bounded("helpers", 1, MOST_HELPERS)
        self._bounded("batches", 0, MOST_BATCHES)
        self._bounded("reused_brought", 0, MOST_BOTTLES)
        self._bounded("reused_broken", 0, MOST_BOTTLES)
        self.fields["pressed_kg"].error_messages["required"] = _("Say how much fruit was pressed; 0 when none was.")
        self.fields["machines"].queryset = booking.machines.order_by("position", "pk")  # type: ignore[attr-defined]
        if correcting:
            self.fields["revision"] = CountField(required=False, widget=forms.HiddenInput, min_value=0, max_value=10**9)
            self._begin_with(correcting)
        else:
            self.initial["machines"] = list(booking.machines.values_list("pk", flat=True))

    def given(self) -> Given:
        """What was typed, in kilograms and litres. For a form that is valid."""
        typed = {name: self.cleaned_data[name] for name in Given.__slots__}
        for names, unit, base in ((MASSES, self.mass, Unit.KG), (VOLUMES, self.volume, Unit.LITRE)):
            for name in names:
                typed[name] = convert(Amount(value=typed[name] or Decimal(0), unit=unit), base).value
        return Given(**typed)

    def refuse(self, refused: RecordRefused) -> None:
        """Show a refusal by the field that it names, with what was weighed in the scheme's own units."""
        said = [str(refused)]
        if isinstance(refused, MoreThanItsFruit):
            words = {
                "juice": in_units(self.system, litres=refused.litres),
                "weight": in_units(self.system, kg=refused.juice_kg),
            }
            said.append(_("%(juice)s of juice weigh %(weight)s.") % words)
        self.add_error(refused.field if refused.field in self.fields else None, " ".join(said))

    def see_again(self, revision: int) -> None:
        """Sent once more, the form puts what was typed in place of this revision."""
        typed = QueryDict(mutable=True)
        typed.update(self.data)
        typed["revision"] = str(revision)
        self.data = typed

    def _measured(self, name: str, label: Any, unit: Unit) -> None:
        units = {
            Unit.KG: lazy("kg"),
            Unit.LB: lazy("lb"),
            Unit.LITRE: lazy("litres"),
            Unit.IMPERIAL_GALLON: lazy("gallons"),
            Unit.US_GALLON: lazy("US gallons"),
        }
        self.fields[name].label = f"{label} ({units[unit]})"
        base = Unit.KG if name in MASSES else Unit.LITRE
        self._bounded(name, Decimal(0), convert(Amount(value=MOST_KG, unit=base), unit).value.quantize(Decimal(1)))

    def _bounded(self, name: str, least: Decimal | int, most: Decimal | int) -> None:
        field: Any = self.fields[name]
        refusal = _("Give a number from %(least)s to %(most)s.") % {"least": least, "most": most}
        field.validators = [*field.validators, _within(least, most, refusal)]
        field.error_messages["invalid"] = refusal

    def _begin_with(self, record: PressDayRecord) -> None:
        for name in (*Given.__slots__, "day"):
            value = getattr(record, name)
            if name in MASSES:
                value = self._shown(convert(Amount(value=value, unit=Unit.KG), self.mass).value)
            elif name in VOLUMES:
                value = self._shown(convert(Amount(value=value, unit=Unit.LITRE), self.volume).value)
            elif name == "hours" and value is not None:
                value = f"{value.normalize():f}"
            self.initial[name] = value
        machines = [machine.pk for machine in record.machines.all()]
        self.initial.update(day=record.day.isoformat(), machines=machines, revision=record.revision)

    @staticmethod
    def _shown(value: Decimal) -> str:
        return f"{value.quantize(HUNDREDTHS).normalize():f}" if value else ""


def _within(least: Decimal | int, most: Decimal | int, refusal: str) -> Any:
    def check(value: Decimal | int) -> None:
        if not least <= value <= most:
            raise forms.ValidationError(refusal)

    return check


def days_to_choose(booking: Booking, last: date, taken: Iterable[date] = ()) -> list[date]:
    """The days on which the kit was there, in order, but for those in `taken`."""
    first, end = booking.out_on.toordinal(), max(last, booking.out_on).toordinal() + 1
    days = [date.fromordinal(number) for number in range(max(first, end - MOST_DAYS), end)]
    return [one for one in days if one not in set(taken)]
