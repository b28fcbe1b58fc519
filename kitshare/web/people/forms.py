"""What people type on the pages about people."""

import uuid
from datetime import datetime, time
from typing import Any, Final

from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member, Village
from kitshare.web.forms import ChangeForm, Things, TimeOfDayField

USUAL_DIGEST: Final = time(18)


class SignInForm(AuthenticationForm):
    """E-mail address and password. `wait_until` says from when another try is welcome, if now it is not."""

    error_messages = {
        "invalid_login": _(
            "This address and password do not belong together. Look for a typing slip,"
            " or telephone the coordinator for a new password."
        ),
        "inactive": _("This account is closed. Telephone the coordinator."),
        "wait": _(
            "Too many tries went wrong. Wait until %(time)s and try again,"
            " or telephone the coordinator for a new password."
        ),
    }

    def __init__(self, *args: Any, wait_until: datetime | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wait_until = wait_until
        self.fields["username"] = forms.EmailField(
            label=_("E-mail address"),
            widget=forms.EmailInput(attrs={"autocomplete": "username", "autofocus": True}),
        )
        self.fields["password"].label = _("Password")
        self.order_fields(["username", "password"])

    def clean(self) -> dict[str, Any]:
        """Look at the password only where another try is welcome."""
        if self.wait_until is not None:
            time = f"{timezone.localtime(self.wait_until):%H:%M}"
            raise ValidationError(self.error_messages["wait"], code="wait", params={"time": time})
        return super().clean()


class OwnFactsForm(ChangeForm[Member]):
    """What a member may correct about themselves. Their address stays one, since they sign in with it."""

    left_to_action = frozenset({"email"})

    class Meta:
        model = Member
        fields = ["name", "email", "telephone"]
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "name"}),
            "email": forms.EmailInput(attrs={"autocomplete": "email"}),
            "telephone": forms.TextInput(attrs={"autocomplete": "tel", "inputmode": "tel"}),
        }
        help_texts = {"email": _("You sign in with it, and messages go to it.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["email"].required = True


class OwnPasswordForm(forms.Form):
    """The password now, and the new one twice."""

    current = forms.CharField(
        label=_("Your password now"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    password = forms.CharField(
        label=_("New password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("At least ten characters. Three or four words in a row are easy to remember and hard to guess."),
    )
    again = forms.CharField(
        label=_("New password again"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member

    def clean_current(self) -> str:
        current: str = self.cleaned_data["current"]
        if not self.member.check_password(current):
            raise ValidationError(_("This is not your password now. Type it again."))
        return current

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        password_validation.validate_password(password, self.member)
        return password

    def clean_again(self) -> str:
        again: str = self.cleaned_data["again"]
        if "password" in self.cleaned_data and again != self.cleaned_data["password"]:
            raise ValidationError(_("The two new passwords differ. Type both again."))
        return again


class MemberForm(ChangeForm[Member]):
    """A member's facts, roles and villages."""

    villages = Things(
        label=_("Signs for"),
        queryset=Village.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("The villages for which this borrower may ask for a kit."),
    )

    left_to_action = frozenset({"email"})

    class Meta:
        model = Member
        fields = ["name", "email", "telephone", "coordinates", "borrows", "maintains", "is_active"]
        help_texts = {
            "coordinates": _("Runs the calendar, agrees bookings, and sees this page."),
            "borrows": _("Asks for a kit and signs for it."),
            "maintains": _("Sees the workbench: mends, tests and releases machines."),
            "is_active": _("Without the tick the account is closed. What they did stays in the logbook."),
        }
        widgets = {"telephone": forms.TextInput(attrs={"inputmode": "tel"})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        signed_for = Village.objects.filter(borrowers=self.instance) if self.instance.pk else Village.objects.none()
        # A village that has left is offered only to those who sign for it still, so that a save does not lose it.
        offered = Village.objects.borrowing() | Village.objects.filter(pk__in=signed_for.values("pk"))
        villages = self.fields["villages"]
        assert isinstance(villages, Things)  # noqa: S101
        villages.queryset = offered.order_by("name", "pk")
        villages.initial = [village.pk for village in signed_for]

    def clean(self) -> dict[str, Any]:
        """Nobody is out of reach: there is an address or a telephone."""
        facts = super().clean() or self.cleaned_data
        if not facts.get("email") and not facts.get("telephone") and not self.errors:
            raise ValidationError(_("Give an e-mail address or a telephone, so that this member can be told things."))
        return facts


class NewMemberForm(MemberForm):
    """A member to be let in: the account is open."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    class Meta(MemberForm.Meta):
        fields = ["name", "email", "telephone", "coordinates", "borrows", "maintains"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial["form_key"] = uuid.uuid4()


class HearingForm(ChangeForm[Member]):
    """How a member is told. What is about safety is none of it."""

    SINGLE, DAILY = "single", "daily"
    left_to_action = frozenset({"quiet_from", "quiet_until"})

    bundled = forms.ChoiceField(
        label=_("Letters"),
        choices=[(SINGLE, _("each by itself, as things happen")), (DAILY, _("once a day, in one letter"))],
        widget=forms.RadioSelect,
    )
    digest_at = TimeOfDayField(label=_("The daily letter comes at"), help_text=_("Counts only for one letter a day."))
    quiet_from = TimeOfDayField(label=_("Quiet from"))
    quiet_until = TimeOfDayField(label=_("Quiet until"))

    class Meta:
        model = Member
        fields = ["digest_at", "quiet_from", "quiet_until", "wants_reminders", "language"]
        labels = {"wants_reminders": _("Remind me")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["bundled"] = self.DAILY if self.instance.digest_at else self.SINGLE
        self.initial["digest_at"] = self.instance.digest_at or USUAL_DIGEST
        if len(settings.LANGUAGES) > 1:
            choices = [("", _("that of the site")), *settings.LANGUAGES]
            self.fields["language"] = forms.ChoiceField(label=_("Language"), choices=choices, required=False)
        else:
            del self.fields["language"]

    def clean(self) -> dict[str, Any]:
        """One letter a day needs its hour; single letters have none."""
        facts = super().clean() or self.cleaned_data
        if facts.get("bundled") == self.SINGLE:
            facts["digest_at"] = None
        elif facts.get("digest_at") is None and "digest_at" not in self.errors:
            self.add_error("digest_at", _("Say at which hour the daily letter comes, such as 18:00."))
        facts.pop("bundled", None)
        return facts


class VillageForm(ChangeForm[Village]):
    """A village's name, how to get there, and who signs for it."""

    borrowers = Things(
        label=_("Who signs for it"),
        queryset=Member.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Members who are borrowers. To offer somebody else, make them a borrower first."),
    )

    class Meta:
        model = Village
        fields = ["name", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        signers = Member.objects.filter(villages=self.instance) if self.instance.pk else Member.objects.none()
        offered = Member.objects.active().filter(borrows=True) | Member.objects.filter(pk__in=signers.values("pk"))
        borrowers = self.fields["borrowers"]
        assert isinstance(borrowers, Things)  # noqa: S101
        borrowers.queryset = offered.order_by("name", "pk")
        borrowers.initial = [member.pk for member in signers]
