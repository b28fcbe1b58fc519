"""How every form is drawn, and what every form shares."""

import re
from decimal import Decimal
from typing import Any, Final, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.forms.renderers import TemplatesSetting
from django.http import QueryDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.logbook import actions as logbook
from kitshare.rules.servicing import FIRST_DAY, LAST_DAY

Thing = TypeVar("Thing", bound=models.Model)
# "1,200" may be one thousand two hundred or one and a fifth: it is asked again, not guessed.
UNCLEAR_COMMA = re.compile(r".*,\d{3}(\D.*)?")
LONGEST_KEY: Final = 18  # figures, so that any such number is within 64 bits


class Renderer(TemplatesSetting):
    """Draws forms by our own templates: label, help, error by the field, then the field."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"


class Things(forms.ModelMultipleChoiceField[Any]):
    """A choice of several rows. A key longer than the database can hold is one that does not exist."""

    def clean(self, value: Any) -> Any:
        for key in value or []:
            if len(str(key)) > LONGEST_KEY:
                raise ValidationError(self.error_messages["invalid_pk_value"], "invalid_pk_value", {"pk": key})
        return super().clean(value)


class AmountField(forms.DecimalField):
    """A number as people write it: 12.5 or 12,5, and 1 200 with its gap."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "class": "short", "autocomplete": "off"})

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        typed = "".join(str(value or "").split())
        if UNCLEAR_COMMA.fullmatch(typed):
            raise ValidationError(
                gettext("Write thousands without a comma, such as 1200; or one decimal, such as 1,2.")
            )
        return super().to_python(typed.replace(",", ".") if typed.count(",") == 1 and "." not in typed else typed)


class TimeOfDayField(forms.TimeField):
    """A time as people write it: 9:30, 9.30 or 0930. Where it is not required, empty means: as usual, or as it was."""

    def __init__(self, *, required: bool = False, **kwargs: Any) -> None:
        widget = forms.TimeInput(format="%H:%M", attrs={"type": "time", "class": "short"})
        formats = ["%H:%M", "%H:%M:%S", "%H.%M", "%H%M"]
        super().__init__(required=required, widget=widget, input_formats=formats, **kwargs)
        self.error_messages["invalid"] = _("Write the time as hours and minutes, such as 09:30.")


class DayField(forms.DateField):
    """A day within the lifetime of such a site."""

    def __init__(self, **kwargs: Any) -> None:
        bounds = [MinValueValidator(FIRST_DAY), MaxValueValidator(LAST_DAY)]
        widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        super().__init__(validators=bounds, widget=widget, **kwargs)


def say_what_changed(form: forms.BaseForm, change: logbook.ChangedMeanwhile) -> None:
    """Say in a form what somebody else changed. Sent again, the form goes by what can be read now."""
    typed = QueryDict(mutable=True)
    typed.update(form.data)
    typed["seen"] = str(change.seen)
    form.data = typed
    form.add_error(None, [ValidationError(sentence) for sentence in change.sentences])


class WatchingForm(forms.ModelForm[Thing]):
    """A form that changes a thing remembers how far the thing's history had come when it was opened."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["seen"] = forms.IntegerField(
                widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1
            )
            self.initial["seen"] = logbook.newest_line(self.instance)

    def refuse_for(self, change: logbook.ChangedMeanwhile) -> None:
        """Say what somebody else changed. Sent again, the form goes by what can be read now."""
        say_what_changed(self, change)


class ChangeForm(WatchingForm[Thing]):
    """A form that collects an action's arguments. It never saves, and what must be unique the action refuses.

    `left_to_action` names the fields under the model's constraints, which the action guards in plain words.
    """

    left_to_action: frozenset[str] = frozenset()

    def validate_unique(self) -> None:
        """Leave it to the action, so that the words are the same whoever asks and whenever the row appeared."""

    def _get_validation_exclusions(self) -> set[str]:
        # Django has no public way to keep a model's constraints out of a form, where they would be named in code.
        return super()._get_validation_exclusions() | self.left_to_action  # type: ignore[misc, no-any-return]

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by the field that it names, or above the form."""
        if isinstance(refusal, logbook.ChangedMeanwhile):
            self.refuse_for(refusal)
            return
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))
