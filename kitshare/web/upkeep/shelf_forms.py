"""What people type about the shelf. Whether it may be done, the deeds say."""

import uuid
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.words import day_in_words
from kitshare.kits.models import Depot, Part
from kitshare.logbook import actions as logbook
from kitshare.people.models import Scheme
from kitshare.rules.stocking import LEAST_ONE_IN, MOST_ONE_IN
from kitshare.upkeep.shelf_models import MOST, Reason, ShelfMovement, ShelfThing
from kitshare.web.forms import ChangeForm, say_what_changed

# Mended with, and carried to another depot, have forms of their own.
TAKEN_BY_HAND = (Reason.GIVEN, Reason.WORN_OUT, Reason.LOST, Reason.THROWN_AWAY, Reason.MENDING)


def whole_number(label: Any, *, least: int, most: int = MOST, **kwargs: Any) -> forms.IntegerField:
    """A field for a whole number, with one sentence for whatever else was typed."""
    field = forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
        **kwargs,
    )
    said = _("Give a whole number from %(least)d to %(most)d.") % {"least": least, "most": most}
    field.error_messages |= dict.fromkeys(("required", "invalid", "min_value", "max_value"), said)
    field.validators = [MinValueValidator(least, said), MaxValueValidator(most, said)]
    return field


def short_note(**kwargs: Any) -> forms.CharField:
    return forms.CharField(
        label=_("Note"), required=False, max_length=500, widget=forms.TextInput(attrs={"autocomplete": "off"}), **kwargs
    )


class ShelfForm(forms.Form):
    """A deed on one thing. Several of these stand on one page: each names its fields after itself."""

    form_key = forms.UUIDField(widget=forms.HiddenInput(attrs={"id": False}), required=False)
    depot = forms.ModelChoiceField(label=_("Depot"), queryset=Depot.objects.none(), empty_label=None)

    field_order = ("form_key", "depot", "to")

    def __init__(self, *args: Any, thing: ShelfThing, depots: list[Depot], newest: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.auto_id = f"{type(self).__name__.removesuffix('Form').lower()}_%s"
        self.newest = newest
        for name in ("depot", "to"):
            if name in self.fields:
                field = self.fields[name]
                field.queryset = Depot.objects.all()  # type: ignore[attr-defined]
                field.choices = [(depot.pk, depot.name) for depot in depots]  # type: ignore[attr-defined]
        if len(depots) == 1:
            self.fields["depot"].widget = forms.HiddenInput(attrs={"id": False})
        if not self.is_bound:
            self.initial.update(form_key=uuid.uuid4(), depot=depots[0].pk if depots else None)

    def again(self) -> None:
        """Go by what the page shows now: it was refused since something else came first."""


class PutInForm(ShelfForm):
    count = whole_number(_("How many came"), least=1)
    note = short_note(help_text=_("Who brought them, what they cost."))


class TakeOutForm(ShelfForm):
    count = whole_number(_("How many"), least=1)
    reason = forms.ChoiceField(
        label=_("Why"),
        choices=[("", _("choose why")), *((reason.value, reason.label) for reason in TAKEN_BY_HAND)],
        error_messages={"required": _("Choose why."), "invalid_choice": _("Choose why.")},
    )
    booking = forms.ModelChoiceField(
        label=_("Which booking"),
        queryset=Booking.objects.none(),
        required=False,
        empty_label=_("none, or not one of these"),
        help_text=_("Where it was given to one."),
    )
    note = short_note()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        coming = Booking.objects.filter(stage__in=(Stage.AGREED, Stage.OUT)).select_related("village")
        field = self.fields["booking"]
        field.queryset = coming.order_by("out_on", "pk")  # type: ignore[attr-defined]
        field.label_from_instance = lambda row: f"{row.village.name}, {day_in_words(row.out_on)}"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """As the deed takes it: a booking only where it was given to one."""
        typed = self.cleaned_data
        booking = typed.pop("booking", None)
        is_given = typed.get("reason") == Reason.GIVEN
        typed["booking_key"] = booking.pk if booking and is_given else None
        return typed


class CountForm(ShelfForm):
    seen = forms.IntegerField(
        widget=forms.HiddenInput(attrs={"id": False}), required=False, min_value=0, max_value=2**63 - 1
    )
    count = whole_number(_("How many are there now"), least=0)
    was_wrong = forms.BooleanField(
        label=_("An earlier line was wrong"),
        required=False,
        help_text=_("Left open, what is missing counts as used, and the least counts learn from it."),
    )
    note = short_note()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["seen"] = self.newest

    def again(self) -> None:
        typed = QueryDict(mutable=True)
        typed.update(self.data)
        typed["seen"] = str(self.newest)
        self.data = typed


class MoveForm(ShelfForm):
    to = forms.ModelChoiceField(label=_("To"), queryset=Depot.objects.none(), empty_label=None)
    count = whole_number(_("How many"), least=1)
    note = short_note()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["depot"].label = _("From")


class LeastForm(ShelfForm):
    least_count = whole_number(
        _("Keep at least"), least=0, required=False, help_text=_("Left empty, it goes by what is used up.")
    )

    def clean(self) -> dict[str, Any]:
        """As the deed takes it."""
        self.cleaned_data.pop("form_key", None)
        return self.cleaned_data


class ThingForm(ChangeForm[ShelfThing]):
    """What is known of a thing on the shelf."""

    left_to_action = frozenset({"name", "kind", "part"})
    lead_days = whole_number(
        _("Days until a delivery comes"), least=0, most=730, help_text=_("From the order to the shelf.")
    )

    class Meta:
        model = ShelfThing
        fields = ["name", "kind", "part", "unit", "lead_days", "note"]
        widgets = {"kind": forms.RadioSelect, "note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kept = Part.objects.travelling()
        if self.instance.part_id:
            kept = kept | Part.objects.filter(pk=self.instance.part_id).order_by(*kept.query.order_by)
        part = self.fields["part"]
        part.queryset = kept.select_related("machine")  # type: ignore[attr-defined]
        part.label_from_instance = lambda row: f"{row.name}, {row.machine.name}"  # type: ignore[attr-defined]
        part.help_text = _("Only where it is a spare.")
        part.empty_label = _("no part: it is used up")  # type: ignore[attr-defined]
        self.fields["kind"].choices = ShelfThing._meta.get_field("kind").choices  # type: ignore[attr-defined]
        if not self.is_bound and not self.instance.pk:
            self.initial.setdefault("unit", str(_("piece")))
            self.initial.setdefault("lead_days", 14)


class NewThingForm(ThingForm):
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    depot = forms.ModelChoiceField(label=_("Depot"), queryset=Depot.objects.none(), empty_label=None)
    count = whole_number(_("How many are there now"), least=0)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["depot"].queryset = Depot.objects.order_by("name", "pk")  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial["form_key"] = uuid.uuid4()


class ShortageForm(forms.Form):
    """How seldom the shelf may run out."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1)
    one_in = whole_number(
        _("One season in how many may need more than is kept"),
        least=LEAST_ONE_IN,
        most=MOST_ONE_IN,
        help_text=_("The larger the number, the more is kept. 20 is a good beginning."),
    )

    def __init__(self, *args: Any, scheme: Scheme, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial.update(one_in=scheme.shortage_one_in, seen=logbook.newest_line(scheme))

    def refuse(self, change: logbook.ChangedMeanwhile) -> None:
        say_what_changed(self, change)


def newest_movement(thing: ShelfThing) -> int:
    """The key of the newest movement of a thing; 0 for none."""
    newest = ShelfMovement.objects.filter(place__thing=thing).order_by("-pk").values_list("pk", flat=True).first()
    return newest or 0
