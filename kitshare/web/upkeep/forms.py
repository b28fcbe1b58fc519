"""What people type about a fault. Whether the deed may be done is not asked here: the deeds say that."""

import uuid
from typing import Any, Final

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import SEVERITIES, Fault
from kitshare.upkeep.photo_models import PhotoWhen
from kitshare.upkeep.spending import MOST_MINUTES, MOST_MONEY, Spent
from kitshare.upkeep.words import where
from kitshare.web.forms import AmountField, DayField

LONGEST = 1900  # a note holds 2,000 letters, and some begin with words of ours

SEVERITY_CHOICES = [
    (Severity.STOPS_USE.value, _("Stops use: the machine is set aside at once, nobody can book it or take it")),
    (Severity.USE_WITH_CARE.value, _("Use with care: it can go out, and whoever takes it must know")),
    (Severity.LOOKS_ONLY.value, _("Looks only: a scratch or a stain")),
]
PICTURES: Final = {"accept": "image/jpeg,image/png,image/webp"}
SEVERITY_MISSING = _("Choose how bad it is. If you are not sure, choose that it stops use.")


def words(label: Any, missing: Any, *, help_text: Any = "", rows: int = 3) -> forms.CharField:
    """A field for a few sentences; `missing` says what to do when it is left empty."""
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": rows}),
        error_messages={"required": missing},
    )


class ReportForm(forms.Form):
    """Something is wrong with a machine."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    part = forms.ModelChoiceField(
        label=_("Which part"),
        queryset=Part.objects.none(),
        required=False,
        empty_label=_("the machine itself, or I do not know"),
        error_messages={
            "invalid_choice": _("That part is retired, or belongs to another machine. Choose another, or none."),
        },
    )
    note = words(
        _("What is wrong"),
        _("Say what is wrong: somebody has to find it again."),
        help_text=_("What you saw, heard or smelt, and when it happened."),
        rows=4,
    )
    photo = forms.FileField(
        label=_("A photo of it"),
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs=PICTURES),
        help_text=_("JPEG, PNG or WebP. Members see it: no faces, no house numbers."),
    )
    severity = forms.ChoiceField(
        label=_("How bad it is"),
        choices=SEVERITY_CHOICES,
        widget=forms.RadioSelect,
        error_messages={"required": SEVERITY_MISSING, "invalid_choice": SEVERITY_MISSING},
    )

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = machine.parts.travelling()  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial["form_key"] = uuid.uuid4()


class PhotoForm(forms.Form):
    """A photo at a fault. What it holds is looked at by the deed, not by its name."""

    photo = forms.FileField(
        label=_("Photo"),
        help_text=_("JPEG, PNG or WebP. Members see it: no faces, no house numbers."),
        allow_empty_file=True,
        widget=forms.FileInput(attrs=PICTURES),
        error_messages={"required": _("Choose a photo first.")},
    )
    when = forms.ChoiceField(label=_("When it was taken"), choices=PhotoWhen, widget=forms.RadioSelect)

    def __init__(self, *args: Any, fault: Fault, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.auto_id = "photo_%s"
        self.initial["when"] = PhotoWhen.AFTER if fault.mended_by_id else PhotoWhen.BEFORE


class DeedForm(forms.Form):
    """A deed on a fault, and the revision of the fault that was looked at."""

    # Two of these without a visible field may stand on one page: the same id must not stand there twice.
    revision = forms.IntegerField(widget=forms.HiddenInput(attrs={"id": False}), min_value=1, max_value=2**31 - 1)

    def __init__(self, *args: Any, fault: Fault, **kwargs: Any) -> None:
        # Several of these stand on one page: each names its fields after itself.
        name = type(self).__name__.removesuffix("Form").lower()
        super().__init__(*args, **kwargs)
        self.auto_id = f"{name}_%s"
        self.initial["revision"] = fault.revision
        self.fault = fault

    def field_of(self, refusal: Exception) -> str | None:
        """By which field a refusal is shown; none: above the form."""
        field = getattr(refusal, "field", None)
        return field if field in self.fields else None


class SpentForm(DeedForm):
    """A deed with which somebody may say what it took."""

    def __init__(self, *args: Any, currency: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["minutes"] = forms.IntegerField(
            label=_("Minutes spent"),
            required=False,
            min_value=0,
            max_value=MOST_MINUTES,
            error_messages={"invalid": _("Write whole minutes, such as 45.")},
        )
        self.fields["money"] = AmountField(
            label=_("Money spent, in %(currency)s") % {"currency": currency} if currency else _("Money spent"),
            required=False,
            min_value=0,
            max_value=MOST_MONEY,
            max_digits=8,
            decimal_places=2,
            error_messages={"invalid": _("Write an amount, such as 12.50.")},
        )

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        typed["spent"] = Spent.of(typed.pop("minutes", None), typed.pop("money", None))
        return typed


class NoteForm(SpentForm):
    text = words(_("Note"), _("Write the note first."), help_text=_("What you found or tried, what is on order."))


class HandOnForm(DeedForm):
    to = forms.ModelChoiceField(
        label=_("To whom"),
        queryset=Member.objects.none(),
        empty_label=_("choose somebody who mends"),
        error_messages={
            "required": _("Choose who goes on with it."),
            "invalid_choice": _("That is nobody who mends. Choose again."),
        },
    )
    text = forms.CharField(
        label=_("What they should know"),
        required=False,
        max_length=LONGEST - 200,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("They are told, by mail or by telephone."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mends = Member.objects.active().filter(Q(maintains=True) | Q(coordinates=True))
        self.fields["to"].queryset = mends.exclude(pk=self.fault.taken_by_id).order_by("name", "pk")  # type: ignore[attr-defined]


class WaitForm(DeedForm):
    waits_for = forms.CharField(
        label=_("What it waits for"), max_length=200, error_messages={"required": _("Say what it waits for.")}
    )
    expected_on = DayField(
        label=_("Expected on"),
        help_text=_("If nobody knows, the day on which you ask again."),
        error_messages={"required": _("Say when it is expected, or on which day you ask again.")},
    )

    def __init__(self, *args: Any, fault: Fault, **kwargs: Any) -> None:
        super().__init__(*args, fault=fault, **kwargs)
        self.initial.update(waits_for=fault.waits_for, expected_on=fault.expected_on)


class OtherFault(forms.ModelChoiceField[Fault]):
    """A choice of faults, each by where it is and what is wrong."""

    def label_from_instance(self, obj: Fault) -> str:
        return f"{where(obj)}: {obj.note[:60]}"


class JoinForm(DeedForm):
    main = OtherFault(
        label=_("Which it follows"),
        queryset=Fault.objects.none(),
        empty_label=_("choose the fault of the same cause"),
        error_messages={
            "required": _("Choose the fault that this one follows."),
            "invalid_choice": _("That fault is over by now, mended, or joined to another. Choose again."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["main"].queryset = Fault.objects.to_join(self.fault)  # type: ignore[attr-defined]


class GiveUpForm(DeedForm):
    reason = words(
        _("Why it is given up"),
        _("Say why it is given up: whoever reported it is told."),
        help_text=_("Such as: retired with the machine, or not worth mending. Whoever reported it is told."),
        rows=2,
    )


class RetestForm(DeedForm):
    retest_note = words(
        _("How it was retested"),
        _("Say how it was retested, and what came of it."),
        help_text=_("What you tried, for how long, and what you saw."),
    )


class SetAsideForm(DeedForm):
    reason = words(_("Why it stops use"), _("Say why it stops use."), rows=2)


class GradeForm(DeedForm):
    severity = forms.ChoiceField(
        label=_("How bad it is"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how bad it is."), "invalid_choice": _("Choose how bad it is.")},
    )
    reason = words(_("Why"), _("Say why you judge it otherwise."), rows=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = {Severity.STOPS_USE.value, self.fault.severity}  # setting aside has a form of its own
        self.fields["severity"].choices = [pair for pair in SEVERITIES if pair[0] not in others]  # type: ignore[attr-defined]
