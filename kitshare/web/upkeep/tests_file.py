"""Safety tests from a file: looked over first, then recorded all at once; and a file to fill in."""

import csv
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bringing.cells import neutral
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.models import ElectricalRules
from kitshare.rules.reading_rows import HEADINGS, MOST_CHARACTERS, Column, text_of
from kitshare.upkeep import from_file
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.from_file import FileRefused, JudgedRow
from kitshare.upkeep.reading_words import finding_in_words, verdict_in_words
from kitshare.upkeep.testing import KINDS_OF
from kitshare.upkeep.words import day_with_year
from kitshare.web.access import PageRequest, for_maintainers


class ManyTestsForm(forms.Form):
    """A file, or the same text pasted."""

    file = forms.FileField(
        label=gettext_lazy("The file"),
        required=False,
        allow_empty_file=True,
        help_text=gettext_lazy("CSV, with the headings below in its first line."),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt"}),
    )
    text = forms.CharField(
        label=gettext_lazy("Or the same, pasted"),
        required=False,
        max_length=MOST_CHARACTERS,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def clean(self) -> dict[str, Any]:
        """Take the file before what is pasted; what cannot be read at all is refused here."""
        upload, text = self.cleaned_data.get("file"), self.cleaned_data.get("text", "")
        if upload is None and not text.strip():
            raise ValidationError(_("Choose the file, or paste what is in it."))
        data = upload.read(MOST_CHARACTERS + 1) if upload is not None else text
        field = "file" if upload is not None else "text"
        try:
            self.judged = from_file.judge(data, today=timezone.localdate())
        except FileRefused as refusal:
            self.add_error(field, str(refusal))
            return self.cleaned_data
        self.cleaned_data["text"] = text_of(data)
        return self.cleaned_data


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def tests_file(request: PageRequest) -> HttpResponse:
    """Look a file of tests over, then record them all or none."""
    form = ManyTestsForm(request.POST or None, request.FILES or None)
    judged: list[JudgedRow] = []
    if request.method == "POST" and form.is_valid():
        judged, text = form.judged, form.cleaned_data["text"]
        if request.POST.get("deed") == "record":
            signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": timezone.localdate()}
            try:
                records = from_file.record_file(data=text, **signed)
            except (CareRefused, ChangedMeanwhile) as refusal:
                form.add_error(None, str(refusal))
            else:
                said = ngettext("%(number)d test is recorded.", "%(number)d tests are recorded.", len(records))
                messages.success(request, said % {"number": len(records)})
                return redirect("upkeep:due")
        typed = request.POST.copy()
        typed["text"] = text
        form.data = typed
    shown = {
        "form": form,
        "lines": [_shown(each) for each in judged],
        "wrong": sum(bool(each.problems) for each in judged),
        "new": sum(not (each.problems or each.is_known) for each in judged),
        "headings": HEADINGS,
        "rules": ElectricalRules(request.our_scheme.electrical_rules),
    }
    return render(request, "upkeep/tests_file.html", shown, status=422 if form.errors else 200)


@require_safe
@for_maintainers
def tests_to_fill(request: PageRequest) -> HttpResponse:
    """The safety tests in force as a file to fill in, a test in each line."""
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="safety-tests.csv"'
    rows = csv.DictWriter(answer, HEADINGS)
    rows.writeheader()
    plans = CarePlan.objects.tests().filter(kind__in=KINDS_OF).select_related("machine").soonest_first()
    rows.writerows({Column.MACHINE: neutral(plan.machine.name), Column.TEST: neutral(plan.name)} for plan in plans)
    return answer


def _shown(judged: JudgedRow) -> dict[str, Any]:
    """A row as the look over shows it: what it would become, in a word, and what was read."""
    word, tone = _("passed"), "done"
    if judged.problems:
        word, tone = _("not understood"), "care"
    elif judged.is_known:
        word, tone = _("recorded already"), "quiet"
    elif judged.will_fail:
        word, tone = _("failed"), "stop"
    said = judged.said
    return {
        "line": judged.row.line,
        "machine": judged.row[Column.MACHINE],
        "test": judged.row[Column.TEST],
        "when": f"{day_with_year(said['done_on'])}, {said['done_by_name']}" if said else "",
        "word": word,
        "tone": tone,
        "found": [f"{finding_in_words(reading)}: {verdict_in_words(reading)}" for reading in judged.readings],
        "problems": judged.problems,
    }
