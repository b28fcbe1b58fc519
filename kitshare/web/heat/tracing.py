"""From the code on a bottle back to its batch: village, day, machine, heat record, and who wrote it down."""

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from kitshare.pressdays.heat_models import HeatRecord, RecalledBatch
from kitshare.pressdays.words import code_refusal
from kitshare.rules.batch_codes import CodeRefused, read_code
from kitshare.web.access import PageRequest


class TraceForm(forms.Form):
    """A code as it stands on a bottle."""

    code = forms.CharField(
        label=gettext_lazy("Code on the bottle"),
        max_length=40,
        help_text=gettext_lazy("Six signs, such as KD7-QXP; capitals and the line between do not matter."),
        widget=forms.TextInput(
            attrs={
                "class": "short batch-code",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
        ),
        error_messages={"required": gettext_lazy("Type the code that stands on the bottle.")},
    )

    def clean_code(self) -> str:
        try:
            return read_code(self.cleaned_data["code"])
        except CodeRefused as refused:
            raise ValidationError(code_refusal(refused)) from refused


@require_safe
def trace(request: PageRequest) -> HttpResponse:
    """Type a code; see the batch."""
    form = TraceForm(request.GET if "code" in request.GET else None)
    facts: dict[str, object] = {"form": form}
    if form.is_bound and form.is_valid():
        code = form.cleaned_data["code"]
        found = HeatRecord.objects.visible_to(request.user).filter(code=code).with_where()
        chain = list(found.select_related("booking__borrower", "replaced_by").order_by("-pk"))
        if chain:
            facts |= {
                "record": chain[0],
                "older": chain[1:],
                "recalled": RecalledBatch.objects.open().filter(record__code=code).select_related("recall").first(),
            }
        else:
            form.add_error("code", _nowhere(request))
    return render(request, "heat/trace.html", facts, status=422 if form.errors else 200)


def _nowhere(request: PageRequest) -> str:
    if request.user.coordinates or request.user.maintains:
        return _("This is a code as ours are, but no batch has it. Compare it with the bottle, sign by sign.")
    return _(
        "No batch of your villages has this code. Compare it with the bottle, sign by sign;"
        " the coordinator can look up the bottles of every village."
    )
