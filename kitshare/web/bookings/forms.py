"""What people type about a booking. Whether it can be had is not asked here: the deeds say that."""

import re
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking, FruitUnitChoice
from kitshare.bookings.words import days_in_words
from kitshare.kits.models import Kit, Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period
from kitshare.web.forms import AmountField, TimeOfDayField

SPELL = re.compile(r"(\d{4}-\d{2}-\d{2})/(\d{4}-\d{2}-\d{2})", re.ASCII)
TYPED = "typed"


def spell_value(period: Period) -> str:
    return f"{period.start.isoformat()}/{period.end.isoformat()}"


def spell_choice(period: Period) -> tuple[str, str]:
    return spell_value(period), days_in_words(period)


def read_spell(value: str) -> Period | None:
    """The days that a choice stands for; None for anything else that was sent in its place."""
    match = SPELL.fullmatch(value)
    if match is None:
        return None
    try:
        return Period(start=date.fromisoformat(match[1]), end=date.fromisoformat(match[2]))
    except ValueError:
        return None


class SpellField(forms.ChoiceField):
    """Days chosen with one tap. Any days are taken, since what was free a minute ago may be on no list now."""

    def valid_value(self, value: Any) -> bool:
        return value == TYPED or read_spell(str(value)) is not None


@dataclass(frozen=True, slots=True)
class MachineTick:
    """One machine to tick, and why it cannot be ticked if it is set aside."""

    machine: Machine
    is_ticked: bool
    set_aside: str


@dataclass(frozen=True, slots=True)
class KitTicks:
    """One kit to tick as a whole, or its machines singly."""

    kit: Kit
    is_ticked: bool
    machines: list[MachineTick]


class BookingForm(forms.Form):
    """Which machines, which days, how much fruit. The same for asking and for changing."""

    kits = forms.MultipleChoiceField(required=False)
    machines = forms.MultipleChoiceField(label=_("Which machines"), required=False)
    spell = SpellField(label=_("Free weekends"), required=False, widget=forms.RadioSelect)
    out_on = forms.DateField(label=_("Goes out on"), required=False)
    back_on = forms.DateField(label=_("Back by the morning of"), required=False)
    out_time = TimeOfDayField(label=_("Collected at"))
    back_time = TimeOfDayField(label=_("Brought back at"))
    fruit_amount = AmountField(
        label=_("How much fruit you expect"),
        min_value=Decimal("0.1"),
        max_value=Decimal(50_000),
        decimal_places=1,
        help_text=_("A guess is fine. You can change it later."),
    )
    fruit_unit = forms.ChoiceField(label=_("Measured in"), choices=FruitUnitChoice.choices)
    note = forms.CharField(
        label=_("Note for the coordinator"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, kits: Sequence[Kit], set_aside: dict[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kits_offered = kits
        self.set_aside = set_aside
        machines = [(str(machine.pk), machine.name) for kit in kits for machine in _machines_of(kit)]
        self._choices("kits", [(str(kit.pk), kit.name) for kit in kits])
        self._choices("machines", machines)
        for name in ("out_on", "back_on"):
            field = self.fields[name]
            field.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
            field.error_messages["invalid"] = gettext("Write the day as year-month-day, such as 2027-09-11.")
        amount = self.fields["fruit_amount"].error_messages
        amount["required"] = gettext("Say how much fruit you expect.")
        amount["min_value"] = gettext("Give the fruit as a number above 0.")
        amount["max_value"] = gettext("That is more fruit than a village brings. Look for a typing slip.")
        amount["invalid"] = gettext("Give the fruit as a number, such as 20 or 12.5.")
        amount["max_decimal_places"] = gettext("One decimal is enough, such as 12.5.")

    def _choices(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101
        field.choices = choices
        field.error_messages["invalid_choice"] = gettext("A machine you ticked is no longer lent. Tick again.")

    def offer(self, weekends: Iterable[Period]) -> None:
        """Offer these days with one tap; those chosen already stay on offer."""
        choices = [spell_choice(period) for period in weekends]
        chosen = str(self["spell"].value() or "")
        kept = read_spell(chosen)
        if kept is not None and chosen not in dict(choices):
            choices.insert(0, spell_choice(kept))
        self.has_weekends = bool(choices)
        field = self.fields["spell"]
        assert isinstance(field, SpellField)  # noqa: S101
        field.choices = [*choices, (TYPED, gettext("Other days, typed below"))]

    def ticked(self) -> list[Machine]:
        """The machines ticked so far, singly or by their kit; what is no machine of ours is passed over."""
        kits = {str(value) for value in self["kits"].value() or ()}
        machines = {str(value) for value in self["machines"].value() or ()}
        return [
            machine
            for kit in self.kits_offered
            for machine in _machines_of(kit)
            if str(kit.pk) in kits or str(machine.pk) in machines
        ]

    def kit_ticks(self) -> list[KitTicks]:
        """The kits and machines as the page shows them."""
        kits = {str(value) for value in self["kits"].value() or ()}
        machines = {str(value) for value in self["machines"].value() or ()}
        return [
            KitTicks(
                kit,
                str(kit.pk) in kits,
                [
                    MachineTick(machine, str(machine.pk) in machines, self.set_aside.get(machine.pk, ""))
                    for machine in _machines_of(kit)
                ],
            )
            for kit in self.kits_offered
            if _machines_of(kit)
        ]

    def typed_days(self) -> list[forms.BoundField]:
        """The fields for days that are on no list."""
        return [self["out_on"], self["back_on"]]

    def times(self) -> list[forms.BoundField]:
        """When people meet on the first day and on the last."""
        return [self["out_time"], self["back_time"]]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not {"machines", "kits"} & set(self.errors):
            cleaned["chosen"] = self.ticked()
            if not cleaned["chosen"]:
                self.add_error("machines", gettext("Tick at least one machine."))
        if "kits" in self.errors:
            self.errors["machines"] = self.errors.pop("kits")
        cleaned["period"] = read_spell(cleaned.get("spell") or "") or self._typed_period(cleaned)
        return cleaned

    def _typed_period(self, cleaned: dict[str, Any]) -> Period | None:
        out_on, back_on = cleaned.get("out_on"), cleaned.get("back_on")
        if out_on is None and "out_on" not in self.errors:
            self.add_error("out_on", gettext("Choose a weekend, or give the day it goes out."))
        if back_on is None and "back_on" not in self.errors:
            self.add_error("back_on", gettext("Give the day it is back."))
        if out_on is None or back_on is None:
            return None
        if back_on <= out_on:
            self.add_error("back_on", gettext("It comes back after it goes out: choose a later day."))
            return None
        return Period(start=out_on, end=back_on)


class NewBookingForm(BookingForm):
    """Also for which village, and who signs. Its key makes a form sent twice one booking."""

    for_whom = forms.ChoiceField(label=_("Which village"))
    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, pairs: Sequence[tuple[Village, Member]], by: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pairs = {f"{village.pk}-{member.pk}": (village, member) for village, member in pairs}
        field = self.fields["for_whom"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.error_messages["invalid_choice"] = gettext("Choose one of the villages shown.")
        choices = [(value, _pair_in_words(*pair, by=by)) for value, pair in self.pairs.items()]
        field.choices = choices if len(choices) == 1 else [("", gettext("Choose a village")), *choices]
        field.error_messages["required"] = gettext("Choose a village.")
        if by.coordinates:
            field.label = _("Which village, and who signs")
        self.initial.setdefault("key", uuid.uuid4())
        self.fields["key"].error_messages["invalid"] = gettext("Send the form once more.")
        self.order_fields(["for_whom"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        cleaned["village"], cleaned["borrower"] = self.pairs.get(cleaned.get("for_whom", ""), (None, None))
        return cleaned


class ChangeBookingForm(BookingForm):
    """Carries the revision that was looked at."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)


class RevisionForm(forms.Form):
    """One tap that does something to a booking as it was shown."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)


class ReasonForm(RevisionForm):
    reason = forms.CharField(label=_("Reason"), max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))


class DeclineForm(ReasonForm):
    """Nobody is turned down without being told why."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = _("The village reads it.")
        self.fields["reason"].error_messages["required"] = gettext("Say why: the village reads it.")


class CallOffForm(ReasonForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = False
        self.fields["reason"].help_text = _("Everybody concerned reads it.")


def as_initial(form_class: type[BookingForm], typed: QueryDict) -> dict[str, Any]:
    """What was typed, as the start of a form that nobody has asked to be judged yet."""
    several = {"kits", "machines"}
    return {
        name: typed.getlist(name) if name in several else typed[name]
        for name in form_class.base_fields
        if name in typed
    }


def initial_of(booking: Booking) -> dict[str, Any]:
    """The booking as it stands, as the start of a change."""
    return {
        "machines": [machine.pk for machine in booking.machines.all()],
        "spell": TYPED,
        "out_on": booking.out_on,
        "back_on": booking.back_on,
        "out_time": booking.out_time,
        "back_time": booking.back_time,
        "fruit_amount": f"{booking.fruit_amount.normalize():f}",
        "fruit_unit": booking.fruit_unit,
        "note": booking.note,
        "revision": booking.revision,
    }


def _machines_of(kit: Kit) -> list[Machine]:
    machines: list[Machine] = kit.machines_in_use  # type: ignore[attr-defined]
    return machines


def _pair_in_words(village: Village, member: Member, *, by: Member) -> str:
    if member == by and not by.coordinates:
        return village.name
    return gettext("%(village)s: %(member)s signs") % {"village": village.name, "member": member.name}
