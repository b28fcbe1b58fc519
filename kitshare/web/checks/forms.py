"""What people tap and type at a check."""

import uuid
from collections.abc import Mapping
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.checks.lines import ListedPart, PartSeen, PartWrong, judge
from kitshare.checks.models import CONDITIONS, Photo, SignedRole
from kitshare.checks.recording import Signature
from kitshare.kits.weighing import part_load
from kitshare.rules.checklists import Condition, PartKind
from kitshare.web.lifting import weight_in_words

ALL: Final = "all"
OTHER: Final = "other"
MOST: Final = 1000


class SignatureForm(forms.Form):
    """Who puts their name under the sheet. Nothing is filled in for them."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    note = forms.CharField(
        label=gettext_lazy("Anything else to note"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    signed_name = forms.CharField(
        label=gettext_lazy("Your name"),
        help_text=gettext_lazy("You sign with it for what is ticked above."),
        max_length=120,
        error_messages={"required": gettext_lazy("Sign with your name.")},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    signed_role = forms.ChoiceField(
        label=gettext_lazy("You are here as"),
        choices=[
            (SignedRole.BORROWER, gettext_lazy("borrower: I sign for the village")),
            (SignedRole.HELPER, gettext_lazy("helper of the village")),
            (SignedRole.DEPOT, gettext_lazy("somebody from the depot")),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Say as what you are here.")},
    )

    def signature(self) -> Signature:
        """What was signed, once the form is valid."""
        said = self.cleaned_data
        return Signature(
            key=said["key"], name=said["signed_name"], role=SignedRole(said["signed_role"]), note=said["note"]
        )


class RelaySignatureForm(SignatureForm):
    """Two names: who hands over, and who takes it on. That it was cleaned down is ticked, or owed."""

    is_clean = forms.BooleanField(
        label=gettext_lazy("It was cleaned down: washed, drained and dry"),
        help_text=gettext_lazy("Not ticked, the handing village owes it, and the coordinator is told."),
        required=False,
    )
    taken_name = forms.CharField(
        label=gettext_lazy("Name of whoever takes it on"),
        max_length=120,
        error_messages={"required": gettext_lazy("Whoever takes it on signs too.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["signed_role"]
        name = self.fields["signed_name"]
        name.label, name.help_text = gettext_lazy("Name of whoever hands over"), ""
        name.widget.attrs["autocomplete"] = "off"

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        names = [" ".join(said.get(field, "").split()).casefold() for field in ("signed_name", "taken_name")]
        if all(names) and names[0] == names[1]:
            self.add_error("taken_name", _("Two people sign: one who hands over, and another who takes it on."))
        return said

    def signature(self) -> Signature:
        said = self.cleaned_data
        return Signature(
            key=said["key"],
            name=said["signed_name"],
            role=SignedRole.BORROWER,
            note=said["note"],
            taken_name=said["taken_name"],
            is_clean=said["is_clean"],
        )


class DealtWithForm(forms.Form):
    """What a coordinator did about a sheet that could not be recorded."""

    note = forms.CharField(
        label=gettext_lazy("What was done about it"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("Say what was done about it: somebody will ask.")},
    )


class LineForm(forms.Form):
    """One part: a tap for "sound and all here", or what is not. Nothing is ticked beforehand."""

    seen = forms.ChoiceField(choices=[("", ""), (ALL, ""), (OTHER, "")], required=False)
    count = forms.IntegerField(min_value=0, max_value=MOST, required=False)
    condition = forms.ChoiceField(choices=CONDITIONS, required=False)
    spare_fitted = forms.BooleanField(required=False)
    note = forms.CharField(max_length=500, required=False)
    photo = forms.FileField(required=False, allow_empty_file=True)
    photo_key = forms.CharField(required=False)
    drop_photo = forms.BooleanField(required=False)

    def __init__(
        self,
        data: QueryDict | None,
        files: "MultiValueDict[str, UploadedFile[bytes]] | None",
        *,
        listed: ListedPart,
        photos: dict[str, Photo],
        spares: Mapping[int, int] | None,
        begun: dict[str, str] | None = None,
    ) -> None:
        """`spares`: how many lie at the depot, by part; none where no spare is put in.

        `begun`: what somebody ticked before, to start from. Nothing of it counts as an error yet.
        """
        super().__init__(data, files, prefix=f"p{listed.part.pk}", use_required_attribute=False)
        self.begun = begun or {}
        self.listed = listed
        self.part = listed.part
        self.may_fit_spare = spares is not None and listed.part.kind != PartKind.CONSUMABLE
        self.spares_there = (spares or {}).get(listed.part.pk, 0)
        self.weight = weight_in_words(part_load(listed.part))
        self.was_kept = photos.get(self._typed("photo_key"))
        self.kept_photo = None if self._typed("drop_photo") else self.was_kept
        number = {"part": self.part.name}
        message = _("%(part)s: give a number from 0 to 1,000.") % number
        self.fields["count"].error_messages.update(invalid=message, min_value=message, max_value=message)
        self.fields["count"].validators = []  # the bounds are said once, below, in those words
        too_long = _("%(part)s: the note is too long; 500 letters at most.") % number
        self.fields["note"].error_messages.update(max_length=too_long)

    def clean_count(self) -> int | None:
        count: int | None = self.cleaned_data["count"]
        if count is not None and not 0 <= count <= MOST:
            raise forms.ValidationError(self.fields["count"].error_messages["invalid"])
        return count

    def clean(self) -> None:
        name = {"part": self.part.name}
        if not self.is_seen:
            self.add_error("seen", _("%(part)s: not looked at yet.") % name)
        elif self.errors:
            return
        elif self.chosen == OTHER and not self.cleaned_data["condition"]:
            self.add_error("condition", _("%(part)s: say how it looks.") % name)
        else:
            try:
                judge(self.listed, self.part_seen())
            except PartWrong as wrong:
                self.add_error(wrong.field, str(wrong))

    def keep(self, photo: Photo) -> None:
        """Show this photo from now on, and send its key along when the form is sent again."""
        self.kept_photo = photo

    def part_seen(self) -> PartSeen:
        """What was said about the part, once the form is valid."""
        said = self.cleaned_data
        count, condition = self._as_listed() if self.chosen == ALL else self._as_typed()
        return PartSeen(
            part=self.part,
            count=count,
            condition=condition,
            spare_fitted=self.chosen == OTHER and self.may_fit_spare and said["spare_fitted"],
            note=said["note"],
            photo=self.kept_photo,
        )

    @cached_property
    def chosen(self) -> str:
        """Which of the two was tapped. A condition alone says as much as "not all right"."""
        tapped = self._typed("seen")
        if tapped in {ALL, OTHER}:
            return tapped
        return OTHER if self.condition_now else ""

    @property
    def is_seen(self) -> bool:
        return self.chosen != ""

    @property
    def is_counted(self) -> bool:
        return self.listed.expected > 1

    @property
    def went_out_short(self) -> bool:
        """Whether it left already other than sound and all there."""
        listed = self.listed
        if listed.went_out_count is None:
            return False
        return listed.went_out_count < listed.expected or listed.went_out_condition != Condition.SOUND

    @property
    def usual_count(self) -> int:
        """The number that the count begins with: how many went out, else how many belong there."""
        count = self.listed.went_out_count
        return self.listed.expected if count is None else count

    @property
    def usual_condition(self) -> Condition:
        """How it looks where it is ticked as usual: as it went out, else sound."""
        return self.listed.went_out_condition or Condition.SOUND

    @property
    def count_now(self) -> str:
        typed = self._typed("count")
        return typed if self.is_bound else typed or str(self.usual_count)

    @property
    def condition_now(self) -> str:
        return self._typed("condition")

    @property
    def note_now(self) -> str:
        return self._typed("note")

    @property
    def spare_now(self) -> bool:
        return bool(self._typed("spare_fitted"))

    @property
    def is_missing(self) -> bool:
        return self.chosen == OTHER and self.condition_now == Condition.MISSING

    @property
    def extras_open(self) -> bool:
        wrong = self.is_bound and bool({"note", "photo"} & set(self.errors))
        return wrong or bool(self.note_now or self.kept_photo)

    @property
    def conditions(self) -> list[tuple[str, str]]:
        """The conditions in words; of what is used up none is missing, none is left."""
        words = [(value, str(word)) for value, word in CONDITIONS]
        if self.part.kind == PartKind.CONSUMABLE:
            words[-1] = (Condition.MISSING.value, _("none left"))
        return words

    @property
    def sent_photo(self) -> "UploadedFile[bytes] | None":
        return self.files.get(self.add_prefix("photo")) if self.is_bound else None

    def _as_listed(self) -> tuple[int, Condition]:
        condition = self.listed.went_out_condition or Condition.SOUND
        return self.usual_count, condition

    def _as_typed(self) -> tuple[int, Condition]:
        said = self.cleaned_data
        condition = Condition(said["condition"])
        if not self.is_counted:
            return (0 if condition == Condition.MISSING else 1), condition
        count = said["count"]
        if count is None:
            count = 0 if condition == Condition.MISSING else self.usual_count
        return count, condition

    @property
    def was_asked(self) -> bool:
        """Whether the part was on the list that was sent, looked at or not."""
        return any(name.startswith(f"{self.prefix}-") for name in self.data)

    def _typed(self, name: str) -> str:
        said = self.data if self.is_bound else self.begun
        return str(said.get(self.add_prefix(name), ""))


def new_key() -> str:
    """The key of a fresh sheet, by which the same sheet sent twice is known."""
    return str(uuid.uuid4())
