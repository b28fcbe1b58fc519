"""A code as it is typed, and which labels are printed."""

from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.kits.code_models import Code
from kitshare.rules import codes
from kitshare.rules.codes import CodeWrong, CodeWrongBy

PAPERS: Final = [("a4", gettext_lazy("A4")), ("letter", gettext_lazy("Letter"))]


def why_wrong(wrong: CodeWrong) -> str:
    """What is wrong with a code, and what to look at."""
    words = {
        CodeWrongBy.EMPTY: _("Type the code that stands under the squares on the label."),
        CodeWrongBy.TOO_SHORT: _("A code has six characters; here are fewer. Look whether one was left out."),
        CodeWrongBy.TOO_LONG: _("A code has six characters; here are more. Look whether one came twice."),
        CodeWrongBy.NEVER_USED: _("No code has “%(characters)s” in it. Look again at that place on the label."),
        CodeWrongBy.CHECK: _(
            "This is not a code of ours: one character is wrong, or two have changed places."
            " Compare it with the label, one by one."
        ),
    }
    return words[wrong.by] % {"characters": wrong.characters[:10]}


class CodeForm(forms.Form):
    """A code, typed from a label."""

    code = forms.CharField(
        label=gettext_lazy("Code"),
        help_text=gettext_lazy("Six figures and letters. Capitals and gaps do not matter."),
        max_length=40,
        error_messages={"required": gettext_lazy("Type the code that stands under the squares on the label.")},
        widget=forms.TextInput(
            attrs={
                "class": "code-field",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
        ),
    )

    def clean_code(self) -> Code:
        try:
            text = codes.read(self.cleaned_data["code"])
        except CodeWrong as wrong:
            raise forms.ValidationError(why_wrong(wrong)) from wrong
        code: Code | None = Code.objects.with_things().filter(text=text).first()
        if code is None:
            raise forms.ValidationError(
                _("It is typed well, but nothing of this scheme has this code. Is the label from another scheme?")
            )
        return code


class LabelsForm(forms.Form):
    """Which labels, and on what paper."""

    paper = forms.ChoiceField(
        label=gettext_lazy("Paper"), choices=PAPERS, widget=forms.RadioSelect, initial="a4", required=False
    )
    code = forms.MultipleChoiceField(
        label=gettext_lazy("Labels"), error_messages={"required": gettext_lazy("Tick at least one label.")}
    )

    def __init__(self, *args: Any, known: list[Code], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["code"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101 - for the reader and the type checker
        field.choices = [(code.text, str(code)) for code in known]

    @property
    def chosen_paper(self) -> str:
        return self.cleaned_data["paper"] or "a4"
