"""Asking bottles back: what is proposed, a look over who would be told, the list to print, and its end."""

import re
import uuid
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.pressdays import recalls as recalling
from kitshare.pressdays.heat_models import HeatRecord, Recall
from kitshare.pressdays.heat_refusals import RecallRefused
from kitshare.pressdays.words import code_refusal
from kitshare.rules.batch_codes import CodeRefused, read_code, shown
from kitshare.upkeep.words import day_with_year
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.forms import Things

SHOWN_AT_MOST = 100
MOST_CODES = 200


class RecallForm(forms.Form):
    """Which batches, why, and what people are to do."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    chosen = Things(
        label=gettext_lazy("Not shown to be held"),
        queryset=HeatRecord.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    codes = forms.CharField(
        label=gettext_lazy("Other codes"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off", "spellcheck": "false"}),
        help_text=gettext_lazy("As they stand on the bottles, with commas or lines between them."),
    )
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Those who signed for the villages read this."),
        error_messages={"required": gettext_lazy("Say why these bottles are asked back.")},
    )
    what_to_do = forms.CharField(
        label=gettext_lazy("What to do with the bottles"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("Say what people are to do with the bottles.")},
    )

    def __init__(self, *args: Any, since: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        found = recalling.proposed(since)
        self.fields["chosen"].queryset = found  # type: ignore[attr-defined]
        self.fields["chosen"].label_from_instance = _batch_words  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial.setdefault("form_key", uuid.uuid4())

    def clean_codes(self) -> list[HeatRecord]:
        """The batches behind the codes typed."""
        typed = [word for word in re.split(r"[\s,;]+", self.cleaned_data["codes"]) if word]
        if len(typed) > MOST_CODES:
            raise ValidationError(_("That is more than %(most)s codes. Recall them in parts.") % {"most": MOST_CODES})
        codes = []
        for word in typed:
            try:
                codes.append(read_code(word))
            except CodeRefused as refused:
                raise ValidationError(f"“{word[:20]}”: {code_refusal(refused)}") from refused
        found = {one.code: one for one in HeatRecord.objects.standing().filter(code__in=codes).with_where()}
        lost = [shown(code) for code in codes if code not in found]
        if lost:
            raise ValidationError(_("No batch has the code %(codes)s.") % {"codes": ", ".join(lost)})
        return list(found.values())

    def records(self) -> list[HeatRecord]:
        """Every batch that was ticked or typed, once."""
        facts = self.cleaned_data
        return list({one.pk: one for one in [*facts["chosen"], *facts["codes"]]}.values())


class EndForm(forms.Form):
    reason = forms.CharField(
        label=gettext_lazy("Why it is over"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": gettext_lazy("Say why it is over: such as every bottle is back.")},
    )


@for_coordinators
@require_safe
def recalls(request: PageRequest) -> HttpResponse:
    """What is asked back, what was, and which batches are not shown to be held."""
    made = Recall.objects.select_related("by", "end").prefetch_related("batches__record").order_by("-at", "-pk")
    facts = {"recalls": made[:SHOWN_AT_MOST], "proposed": recalling.proposed(_since(request))[:SHOWN_AT_MOST]}
    return render(request, "heat/recalls.html", facts)


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def recall_new(request: PageRequest) -> HttpResponse:
    """Choose batches and say why; look over who is told; then recall them."""
    if request.method != "POST":
        return _new_page(
            request, RecallForm(initial={"codes": request.GET.get("codes", "")[:200]}, since=_since(request))
        )
    form = RecallForm(request.POST, since=_since(request))
    if not form.is_valid():
        return _new_page(request, form)
    records = form.records()
    if not records:
        form.add_error("codes", _("Tick the batches to recall, or type their codes."))
        return _new_page(request, form)
    if "sure" not in request.POST:
        shown_over = {"form": form, "villages": recalling.of_villages(records), "kept": _as_sent(request)}
        return render(request, "heat/recall_look_over.html", shown_over)
    facts = form.cleaned_data
    try:
        made = recalling.recall(
            records=records,
            reason=facts["reason"],
            what_to_do=facts["what_to_do"],
            key=facts["form_key"],
            by=request.user,
            at=timezone.now(),
        )
    except RecallRefused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        return _new_page(request, form)
    messages.success(request, _("Recalled. Everybody who signs for these villages is told."))
    return redirect("heat:recall", made.pk)


@for_coordinators
@require_safe
def recall(request: PageRequest, pk: int) -> HttpResponse:
    """The list of a recall, to print and to telephone by."""
    return _recall_page(request, _fetch(pk), EndForm())


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def recall_end(request: PageRequest, pk: int) -> HttpResponse:
    """Say that a recall is over."""
    found = _fetch(pk)
    if request.method != "POST":
        return redirect("heat:recall", pk)
    form = EndForm(request.POST)
    if form.is_valid():
        try:
            recalling.end_recall(recall=found, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except RecallRefused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            messages.success(request, _("The recall is over. Its list stays."))
            return redirect("heat:recall", pk)
    return _recall_page(request, found, form)


def _since(request: PageRequest) -> date:
    return recalling.kept_since(request.our_scheme, timezone.localdate())


def _as_sent(request: PageRequest) -> list[tuple[str, str]]:
    """What was typed, to be sent once more with the yes to it."""
    names = ("form_key", "chosen", "codes", "reason", "what_to_do")
    return [(name, value) for name in names for value in request.POST.getlist(name)]


def _batch_words(record: HeatRecord) -> str:
    words = {
        "code": record.shown_code,
        "village": record.booking.village.name,
        "bottles": record.bottles,
        "container": record.container,
        "day": day_with_year(record.filled_on),
    }
    return _("%(code)s, %(village)s: %(bottles)s × %(container)s, filled on %(day)s") % words


def _fetch(pk: int) -> Recall:
    found: Recall = get_object_or_404(Recall.objects.select_related("by", "end__by"), pk=pk)
    return found


def _new_page(request: PageRequest, form: RecallForm) -> HttpResponse:
    return render(request, "heat/recall_new.html", {"form": form}, status=422 if form.errors else 200)


def _recall_page(request: PageRequest, found: Recall, form: EndForm) -> HttpResponse:
    batches = found.batches.select_related("record__booking__village", "record__pasteuriser").order_by("pk")
    records = [batch.record for batch in batches]
    shown = {
        "recall": found,
        "end": getattr(found, "end", None),
        "records": records,
        "villages": recalling.of_villages(records),
        "bottles": sum(record.bottles for record in records),
        "litres": sum(record.litres for record in records),
        "form": form,
    }
    return render(request, "heat/recall.html", shown, status=422 if form.errors else 200)
