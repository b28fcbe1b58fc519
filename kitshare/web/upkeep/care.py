"""Services and safety tests: what is due, a plan's own page, and the deeds on it."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.kits.models import Machine
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.models import ElectricalRules
from kitshare.upkeep import care, eligibility
from kitshare.upkeep.care_models import CarePlan, UpkeepCalendar
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.testing import KINDS_OF
from kitshare.upkeep.words import day_with_year
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.feed_addresses import change_address
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import history_of
from kitshare.web.upkeep import facts, use_words
from kitshare.web.upkeep.care_facts import care_line, soonest_due_first, standings_of
from kitshare.web.upkeep.care_forms import ChangePlanForm, EndPlanForm, NewPlanForm, RecordForm
from kitshare.web.upkeep.care_tables import DueTable
from kitshare.web.upkeep.season_facts import line_about

RECORDS_SHOWN = 50


@require_safe
@for_maintainers
def due(request: PageRequest) -> HttpResponse:
    """Every service and safety test in force, the soonest due first, and the address of their calendar."""
    today = timezone.localdate()
    stands = standings_of(CarePlan.objects.by_use(), today)
    table = DueTable(soonest_due_first(CarePlan.objects.in_force().select_related("machine__kit"), stands))
    on_pages(request, table)
    page = list(table.page.object_list.data)
    needs = facts.needs_of({plan.machine_id for plan in page}, today)
    for plan in page:
        plan.line = care_line(plan, today, needs[plan.machine_id], stands.get(plan.pk))
    shown = {
        "table": table,
        "is_empty": not page,
        "season": line_about(today),
        "calendar": UpkeepCalendar.objects.first(),
        "rules": ElectricalRules(request.our_scheme.electrical_rules),
    }
    return render(request, "upkeep/due.html", shown)


@for_maintainers
@require_POST
def due_feed(request: PageRequest) -> HttpResponse:
    """An address for the upkeep calendar, a new one, or none."""
    change_address(request, of=care.have_calendar())
    return redirect("upkeep:due")


@require_safe
def plan(request: PageRequest, pk: int) -> HttpResponse:
    """A plan's own page. Every member may read it: whoever takes the machine has a right to know."""
    return _page(request, _fetch(pk))


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def plan_new(request: PageRequest, pk: int) -> HttpResponse:
    """Plan a service or a safety test of a machine."""
    machine = get_object_or_404(Machine.objects.select_related("kit").filter(retired_on=None), pk=pk)
    form = NewPlanForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            planned = care.plan_care(machine=machine, **_signed(request), **form.cleaned_data)
        except CareRefused as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request, _("Planned. It is due first on %(day)s.") % {"day": day_with_year(planned.due_on)}
            )
            return redirect("upkeep:plan", pk=planned.pk)
    shown = {"form": form, "machine": machine}
    return render(request, "upkeep/plan_new.html", shown, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def plan_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change a plan; who moves its due day says why."""
    found = _fetch(pk)
    # Another row for the form, which writes what was typed on its own.
    form = ChangePlanForm(request.POST if request.method == "POST" else None, instance=_fetch(pk))
    if request.method == "POST" and form.is_valid():
        try:
            care.change_plan(plan=found, **_signed(request), **form.cleaned_data)
        except (CareRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("The plan is saved."))
            return redirect("upkeep:plan", pk=pk)
    shown = {"form": form, "plan": found}
    return render(request, "upkeep/plan_change.html", shown, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def plan_end(request: PageRequest, pk: int) -> HttpResponse:
    """End a plan: a page asks once more."""
    found = _fetch(pk)
    form = EndPlanForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            care.end_plan(plan=found, today=timezone.localdate(), **_signed(request), **form.cleaned_data)
        except CareRefused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            messages.success(request, _("Ended: it falls due no more. Its records stay."))
            return redirect("upkeep:plan", pk=pk)
    shown = {"form": form, "plan": found}
    return render(request, "upkeep/plan_end.html", shown, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def record(request: PageRequest, pk: int) -> HttpResponse:
    """Record that it was done. Whoever comes by a link, after signing in anew say, lands on the plan's page."""
    found = _fetch(pk)
    if request.method != "POST":
        return redirect("upkeep:plan", pk=pk)
    if not eligibility.mends(request.user):
        raise PermissionDenied(_("This page is for maintenance volunteers and the coordinator."))
    today = timezone.localdate()
    form = RecordForm(request.POST, plan=found, today=today)
    if form.is_valid():
        try:
            recorded = care.record_care(plan=found, today=today, **_signed(request), **form.facts())
        except (CareRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _word_after(found, recorded.passed, day_with_year(recorded.next_due_on)))
            return redirect("upkeep:plan", pk=pk)
    return _page(request, _fetch(pk), form, status=422)


def _word_after(found: CarePlan, passed: bool, next_day: str) -> str:
    words = {"machine": found.machine.name, "day": next_day}
    if not passed:
        return _("Recorded as failed. %(machine)s is set aside, and those who look after it are told.") % words
    return _("Recorded. It is due next on %(day)s.") % words


def _fetch(pk: int) -> CarePlan:
    return get_object_or_404(CarePlan.objects.select_related("machine__kit"), pk=pk)


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _page(request: PageRequest, found: CarePlan, form: RecordForm | None = None, status: int = 200) -> HttpResponse:
    today = timezone.localdate()
    runs = eligibility.mends(request.user)
    use = standings_of([found], today).get(found.pk)
    is_open = runs and not found.is_ended and not found.machine.retired_on
    shown = {
        "plan": found,
        "line": care_line(found, today, use=use),
        "use": use_words.sentences(use) if use else [],
        "records": found.records.select_related("by", "fault", "sheet").order_by("-done_on", "-pk")[:RECORDS_SHOWN],
        "history": history_of(found, request.user, request.GET.get("before")),
        "form": form or (RecordForm(plan=found, today=today) if is_open else None),
        "runs": runs,
        "is_open": is_open,
        "has_readings": found.kind in KINDS_OF,
        "cautions": facts.cautions_for(found.machine, None),
    }
    return render(request, "upkeep/plan.html", shown, status=status)
