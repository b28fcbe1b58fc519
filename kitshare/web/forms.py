"""How every form is drawn, and what every form shares."""

from typing import TypeVar

from django import forms
from django.db import models
from django.forms.renderers import TemplatesSetting

Thing = TypeVar("Thing", bound=models.Model)


class Renderer(TemplatesSetting):
    """Draws forms by our own templates: label, help, error by the field, then the field."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"


class ChangeForm(forms.ModelForm[Thing]):
    """A form that collects an action's arguments. It never saves, and what must be unique the action refuses."""

    def validate_unique(self) -> None:
        """Leave it to the action, so that the words are the same whoever asks and whenever the row appeared."""

    def validate_constraints(self) -> None:
        """Leave these to the action too."""

    def refuse(self, refusal: Exception) -> None:
        """Show an action's refusal by the field that it names, or above the form."""
        field = getattr(refusal, "field", None)
        self.add_error(field if field in self.fields else None, str(refusal))
