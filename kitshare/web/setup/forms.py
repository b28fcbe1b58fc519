"""What is asked about the scheme: on the first run, and in its settings."""

from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.founding import Beginning
from kitshare.bookings.models import Season
from kitshare.bookings.seasons import SeasonBackwards
from kitshare.kits.models import MachineKind
from kitshare.people.models import Member, Scheme, Units
from kitshare.web.forms import ChangeForm, DayField, TimeOfDayField
from kitshare.web.setup.zones import find_zone, zone_names

STARTERS = [kind for kind in MachineKind.choices if kind[0] != MachineKind.OTHER]


class ZoneInput(forms.TextInput):
    """A text box that offers the zones as one types; without that, the name is typed out."""

    template_name = "setup/zone_input.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, {**(attrs or {}), "list": "zones"})
        return {**context, "zones": zone_names()}


class ZoneField(forms.CharField):
    """A time zone by its name, or by its city."""

    def __init__(self) -> None:
        super().__init__(
            label=_("Time zone"),
            max_length=60,
            help_text=_("Type the nearest large city, such as “London”, and choose. Times are shown by it."),
            widget=ZoneInput(attrs={"autocomplete": "off"}),
        )

    def clean(self, value: Any) -> str:
        typed: str = super().clean(value)
        zone = find_zone(typed)
        if zone is None:
            raise ValidationError(
                _("No time zone is called %(typed)s. Choose one from the list, such as Europe/London."),
                params={"typed": typed},
            )
        return zone


class SchemeForm(ChangeForm[Scheme]):
    """The scheme's settings. That it is a demonstration is not one of them."""

    time_zone = ZoneField()
    out_time = TimeOfDayField(label=_("Usual time of collection"))
    back_time = TimeOfDayField(label=_("Usual time of return"))

    class Meta:
        model = Scheme
        fields = ["name", "telephone", "time_zone", "units", "out_time", "back_time"]
        fields += ["crate_kg", "sack_kg", "pomace_sack_kg", "offer_hours"]
        widgets = {"units": forms.RadioSelect, "telephone": forms.TextInput(attrs={"inputmode": "tel"})}


class SeasonForm(ChangeForm[Season]):
    """A season's name and days."""

    left_to_action = frozenset({"opens_on", "closes_on"})
    opens_on = DayField(label=_("First day"))
    closes_on = DayField(label=_("Last day"), help_text=_("The last day on which a kit may be out."))

    class Meta:
        model = Season
        fields = ["name", "opens_on", "closes_on"]


def _password(**kwargs: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})
    return forms.CharField(strip=False, max_length=200, widget=widget, **kwargs)


class FirstRunForm(forms.Form):
    """All that a scheme needs before its first booking, on one page."""

    setup_word = forms.CharField(
        label=_("Setup word"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text=_("The word under KITSHARE_SETUP_WORD on the server: it shows that you set this site up."),
    )
    name = forms.CharField(label=_("Name of the scheme"), max_length=80)
    time_zone = ZoneField()
    units = forms.ChoiceField(
        label=_("Units shown"), choices=Units.choices, initial=Units.METRIC, widget=forms.RadioSelect
    )
    coordinator_name = forms.CharField(
        label=_("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    coordinator_email = forms.EmailField(
        label=_("Your e-mail address"),
        help_text=_("You sign in with it."),
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    telephone = forms.CharField(
        label=_("Your telephone"),
        max_length=40,
        help_text=_("Shown in the same place on every page, to all members."),
        widget=forms.TextInput(attrs={"autocomplete": "tel", "inputmode": "tel"}),
    )
    password = _password(
        label=_("Your password"),
        help_text=_("At least ten characters. Three or four words in a row are easy to remember and hard to guess."),
    )
    again = _password(label=_("Your password again"))
    depot_name = forms.CharField(
        label=_("Name of the depot"), max_length=80, help_text=_("Where a kit lives between outings.")
    )
    depot_directions = forms.CharField(
        label=_("How to find it"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    season_name = forms.CharField(
        label=_("Name of the season"), max_length=60, initial=lambda: f"{_('Season')} {timezone.localdate():%Y}"
    )
    opens_on = DayField(label=_("First day"))
    closes_on = DayField(label=_("Last day"))
    machines = forms.MultipleChoiceField(
        label=_("Which machines do you have?"),
        choices=STARTERS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Each comes with a list of the parts that commonly travel with it. Edit it to match yours."),
    )
    kit_name = forms.CharField(
        label=_("Name of the kit"),
        max_length=60,
        required=False,
        help_text=_("The machines you tick travel together as this kit. People will call it by this name."),
    )

    def __init__(self, *args: Any, wait_until: datetime | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wait_until = wait_until
        if not settings.SETUP_WORD:
            del self.fields["setup_word"]

    def clean_setup_word(self) -> str:
        word: str = self.cleaned_data["setup_word"]
        if self.wait_until is not None:
            time = f"{timezone.localtime(self.wait_until):%H:%M}"
            raise ValidationError(
                _("Too many tries went wrong. Wait until %(time)s (UTC) and try again."), params={"time": time}
            )
        if not constant_time_compare(word, settings.SETUP_WORD):
            raise ValidationError(_("This is not the setup word of this server."))
        return word

    def clean(self) -> dict[str, Any]:
        """Look at the fields that depend on one another."""
        facts = self.cleaned_data
        password = facts.get("password")
        if password and facts.get("again") and facts["again"] != password:
            self.add_error("again", _("The two passwords differ. Type both again."))
        elif password:
            self._check_strength(password)
        if facts.get("opens_on") and facts.get("closes_on") and facts["closes_on"] < facts["opens_on"]:
            self.add_error("closes_on", str(SeasonBackwards()))
        if facts.get("machines") and not facts.get("kit_name"):
            self.add_error("kit_name", _("Give the kit in which these machines travel a name."))
        if facts.get("kit_name") and "machines" in facts and not facts["machines"]:
            self.add_error("machines", _("Tick what is in the kit, or leave its name empty to add kits later."))
        return facts

    def _check_strength(self, password: str) -> None:
        facts = self.cleaned_data
        member = Member(name=facts.get("coordinator_name", ""), email=facts.get("coordinator_email"))
        try:
            password_validation.validate_password(password, member)
        except ValidationError as weak:
            self.add_error("password", weak)

    def beginning(self) -> Beginning:
        """What was typed, as the deed takes it."""
        return Beginning(**{name: self.cleaned_data[name] for name in Beginning.__slots__})

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by its field, if this form has one of that name."""
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))
