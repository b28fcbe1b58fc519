"""How every form is drawn, and what every form shares."""

from django.forms.renderers import TemplatesSetting


class Renderer(TemplatesSetting):
    """Draws forms by our own templates: label, help, error by the field, then the field."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"
