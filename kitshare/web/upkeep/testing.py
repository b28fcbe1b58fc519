"""Safety tests with readings: recording one, its own page for print, and whose limits they are judged by."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.electrical_rules import choose_electrical_rules
from kitshare.people.models import ElectricalRules
from kitshare.upkeep import testing
from kitshare.upkeep.care_models import CarePlan, CareRecord
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.reading_models import SafetyReading, SafetySheet
from kitshare.upkeep.reading_words import (
    finding_in_words,
    kind_in_words,
    limit_in_words,
    reading_in_words,
    verdict_in_words,
)
from kitshare.upkeep.testing import KINDS_OF
from kitshare.upkeep.words import day_with_year
from kitshare.web.access import PageRequest, for_coordinators, for_maintainers
from kitshare.web.upkeep import facts
from kitshare.web.upkeep.testing_forms import FACTS_OF, RulesForm, SafetyTestForm


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """One reading as its page shows it."""

    kind: str
    read: str
    limit: str
    verdict: str
    tone: str
    source: str


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def test_new(request: PageRequest, pk: int) -> HttpResponse:
    """Record a safety test with its readings."""
    plan = get_object_or_404(CarePlan.objects.in_force().select_related("machine__kit"), pk=pk)
    if plan.kind not in KINDS_OF:
        raise Http404
    today = timezone.localdate()
    last = SafetySheet.objects.filter(record__plan=plan).order_by("-pk").first()
    form = SafetyTestForm(request.POST if request.method == "POST" else None, plan=plan, today=today, last=last)
    if request.method == "POST" and form.is_valid():
        signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": today}
        try:
            record = testing.record_test(plan=plan, tested=form.findings(), **signed, **form.said())
        except (CareRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            _tell(request, record, said_passed=form.said()["passed"])
            return redirect("upkeep:test", pk=record.pk)
    shown = {
        "form": form,
        "plan": plan,
        "cautions": facts.cautions_for(plan.machine, None),
        "rules": ElectricalRules(request.our_scheme.electrical_rules),
        "is_measured": bool(FACTS_OF.get(plan.kind)),
    }
    return render(request, "upkeep/test_new.html", shown, status=422 if form.errors else 200)


@require_safe
def test(request: PageRequest, pk: int) -> HttpResponse:
    """A recorded test on a page of its own, for reading and for print. Every member may read it."""
    records = CareRecord.objects.select_related("plan__machine__kit", "by", "fault", "sheet")
    record = get_object_or_404(records.filter(sheet__isnull=False), pk=pk)
    lines = [_line(reading) for reading in record.sheet.readings.order_by("pk")]
    is_measured = any(line.limit for line in lines)
    facts_shown = FACTS_OF.get(record.plan.kind, ())
    shown = {"record": record, "lines": lines, "facts_shown": facts_shown, "is_measured": is_measured}
    return render(request, "upkeep/test.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def rules(request: PageRequest) -> HttpResponse:
    """Choose whose limits readings are compared with."""
    form = RulesForm(request.POST if request.method == "POST" else None, scheme=request.our_scheme)
    if request.method == "POST" and form.is_valid():
        try:
            choose_electrical_rules(scheme=request.our_scheme, by=request.user, at=timezone.now(), **form.cleaned_data)
        except ChangedMeanwhile as change:
            form.refuse(change)
        else:
            messages.success(request, _("Chosen. Tests recorded before keep the limits that they were judged by."))
            return redirect("upkeep:due")
    return render(request, "upkeep/rules.html", {"form": form}, status=422 if form.errors else 200)


def _tell(request: PageRequest, record: CareRecord, *, said_passed: bool) -> None:
    machine = record.plan.machine.name
    if record.passed:
        words = {"day": day_with_year(record.next_due_on)}
        messages.success(request, _("Recorded. It is due next on %(day)s.") % words)
    elif said_passed:
        wrong = "; ".join(finding_in_words(reading) for reading in record.sheet.readings.filter(within=False))
        words = {"machine": machine, "wrong": wrong}
        text = _("Recorded as failed, whatever was chosen: %(wrong)s. %(machine)s is set aside.")
        messages.error(request, text % words)
    else:
        text = _("Recorded as failed. %(machine)s is set aside, and those who look after it are told.")
        messages.success(request, text % {"machine": machine})


def _line(reading: SafetyReading) -> ReadingLine:
    tone = {True: "done", False: "stop", None: "quiet"}[reading.within]
    return ReadingLine(
        kind=kind_in_words(reading.kind),
        read=reading_in_words(reading),
        limit=limit_in_words(reading),
        verdict=verdict_in_words(reading),
        tone="care" if reading.is_at_limit else tone,
        source=reading.source,
    )
