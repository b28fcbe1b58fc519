"""Labels for the bottles of a batch, a sheet to print and cut."""

from typing import Any, Final

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import dateformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from kitshare.people.models import Scheme, Units
from kitshare.pressdays.heat_models import HeatRecord, RecalledBatch
from kitshare.web.access import PageRequest

A4: Final = "a4"
LETTER: Final = "letter"
ON_A_SHEET: Final = {A4: 24, LETTER: 21}
MOST_LABELS: Final = 500


class LabelForm(forms.Form):
    """What stands on the labels, how many, and the paper."""

    what = forms.CharField(label=gettext_lazy("What it is"), max_length=40)
    added = forms.CharField(
        label=gettext_lazy("What was added"),
        max_length=80,
        required=False,
        help_text=gettext_lazy("Such as ascorbic acid. Sulphite of 10 mg in a kilogram and more must be named."),
    )
    count = forms.IntegerField(
        label=gettext_lazy("How many labels"),
        min_value=1,
        max_value=MOST_LABELS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "short", "autocomplete": "off"}),
    )
    paper = forms.ChoiceField(
        label=gettext_lazy("Paper"),
        choices=[(A4, gettext_lazy("A4, 24 on a sheet")), (LETTER, gettext_lazy("Letter, 21 on a sheet"))],
        widget=forms.RadioSelect,
    )


@require_safe
def labels(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet, with what stands on it to be changed above."""
    record = get_object_or_404(HeatRecord.objects.visible_to(request.user).with_where(), pk=pk)
    usual = _usual(record, request.our_scheme)
    form = LabelForm(request.GET) if "what" in request.GET else LabelForm(initial=usual)
    chosen: dict[str, Any] = form.cleaned_data if form.is_bound and form.is_valid() else usual
    on_a_sheet = ON_A_SHEET[chosen["paper"]]
    shown = {
        "record": record,
        "form": form,
        "chosen": chosen,
        "best_before": dateformat.format(record.best_before, "j F Y") if record.best_before else "",
        "filled_on": dateformat.format(record.filled_on, "j F Y"),
        "sheets": [
            range(first, min(first + on_a_sheet, chosen["count"])) for first in range(0, chosen["count"], on_a_sheet)
        ],
        "replaced": HeatRecord.objects.filter(replaces=record).exists(),
        "recalled": RecalledBatch.objects.open().filter(record__code=record.code).exists(),
    }
    return render(request, "heat/labels.html", shown, status=422 if form.errors else 200)


def _usual(record: HeatRecord, scheme: Scheme) -> dict[str, Any]:
    return {
        "what": _("Apple juice"),
        "added": "",
        "count": min(record.bottles, MOST_LABELS),
        "paper": LETTER if scheme.units == Units.US else A4,
    }
