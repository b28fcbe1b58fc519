"""The workbench, a fault's own page with the deeds on it, reporting, and the bookings at risk."""

from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings import lateness
from kitshare.bookings.models import Booking
from kitshare.kits.models import Kit, Machine
from kitshare.rules.checklists import Severity
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import eligibility, fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.refusals import FaultChangedMeanwhile, FaultRefused, NotTheirs
from kitshare.upkeep.shelf_models import ShelfPlace
from kitshare.upkeep.shelf_refusals import ShelfRefused
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.lists import on_pages
from kitshare.web.upkeep import bench, facts
from kitshare.web.upkeep.deeds import DEEDS
from kitshare.web.upkeep.forms import DeedForm, ReportForm
from kitshare.web.upkeep.tables import AtRiskTable, WorkTable
from kitshare.web.upkeep.work_lines import line_of_fault

SHOWN: Final = {
    "open": gettext_lazy("All that waits"),
    "mine": gettext_lazy("In my hands"),
    "waits": gettext_lazy("Waiting for a part"),
    "retest": gettext_lazy("To be retested"),
    "released": gettext_lazy("Released or given up"),
}


@require_safe
@for_maintainers
def workbench(request: PageRequest) -> HttpResponse:
    """All that waits to be done: what stops a booking soonest, safety tests, services, then the rest."""
    today = timezone.localdate()
    asked = request.GET.get("show", "")
    show = asked if asked in SHOWN else "open"
    if show == "released":
        table = WorkTable(bench.whole().over().prefetch_related("part__also_serves"), exclude=("why",))
    else:
        faults = {
            "open": Fault.objects.open(),
            "mine": Fault.objects.open().filter(taken_by=request.user),
            "waits": Fault.objects.open().exclude(waits_for=""),
            "retest": Fault.objects.filter(stage=FaultStage.MENDED),
        }[show]
        plans = bench.due_soon(today) if show == "open" else CarePlan.objects.none()
        table = WorkTable(bench.in_order(faults, plans, today))
    on_pages(request, table)
    page = list(table.page.object_list.data)  # the rows that the template reads: fetched here, once
    if show == "released":
        for fault in page:
            fault.line = line_of_fault(fault, today)
    else:
        bench.fill(page, today)
    shown = {
        "table": table,
        "show": show,
        "choices": SHOWN.items(),
        "at_risk": Booking.objects.at_risk(today).count() + len(lateness.waits(today)),
        "is_empty": not page,
    }
    return render(request, "upkeep/workbench.html", shown)


@require_safe
@for_maintainers
def at_risk(request: PageRequest) -> HttpResponse:
    """Bookings still to go out of which a machine is set aside, or needs a safety test first, and who was told."""
    stopping = fitness.stopping_faults().select_related("machine", "part").order_by("machine_id", "pk")
    machines = Machine.objects.order_by("position", "pk").prefetch_related(
        Prefetch("faults", queryset=stopping, to_attr="stopping"),
        Prefetch("care_plans", queryset=CarePlan.objects.tests().soonest_first(), to_attr="tests"),
    )
    today = timezone.localdate()
    bookings = Booking.objects.at_risk(today).select_related("village", "borrower").order_by("out_on", "pk")
    table = AtRiskTable(bookings.prefetch_related(Prefetch("machines", queryset=machines)))
    on_pages(request, table)
    page = list(table.page.object_list.data)
    warnings = facts.warnings_about(page)
    for booking in page:
        booking.warnings = warnings[booking.pk]
        booking.stopped = [fault for machine in booking.machines.all() for fault in machine.stopping]
        booking.tests_first = facts.tests_before(booking, today)
        booking.is_near = booking.out_on <= today + NOTICE
    shown = {"table": table, "is_empty": not page, "waits": lateness.waits(today)}
    return render(request, "upkeep/at_risk.html", shown)


@require_safe
def fault(request: PageRequest, pk: int) -> HttpResponse:
    """A fault's own page. Every member may read it: whoever takes the machine has a right to know."""
    return _page(request, _fetch(pk))


@require_http_methods(["GET", "HEAD", "POST"])
def deed(request: PageRequest, pk: int, name: str) -> HttpResponse:
    """Do one of the deeds on a fault. Whoever comes by a link, after signing in anew say, lands on the page."""
    fault = _fetch(pk)
    if request.method != "POST":
        return redirect("upkeep:fault", pk=pk)
    chosen = DEEDS[name]
    form = chosen.form(request.POST, fault=fault)
    if not (eligibility.mends(request.user) or (name == "note" and eligibility.note_can(fault=fault, by=request.user))):
        raise PermissionDenied(str(NotTheirs()))
    if not form.is_valid():
        return _page(request, fault, refused=(chosen.shown_as, form))
    try:
        chosen.action(fault=fault, by=request.user, at=timezone.now(), **form.cleaned_data)
    except (FaultRefused, ShelfRefused) as refusal:
        return _refused(request, pk, name, refusal)
    messages.success(request, chosen.done)
    return redirect("upkeep:fault", pk=pk)


def _refused(request: PageRequest, pk: int, name: str, refusal: FaultRefused | ShelfRefused) -> HttpResponse:
    """The page as it stands now, with what was typed. Sent again, it goes by what can be read there now."""
    fault = _fetch(pk)
    typed = request.POST.copy()
    typed["revision"] = str(fault.revision)
    form = DEEDS[name].form(typed, fault=fault)
    form.is_valid()
    form.add_error(form.field_of(refusal), str(refusal))
    status = 409 if isinstance(refusal, FaultChangedMeanwhile) else 200
    return _page(request, fault, refused=(DEEDS[name].shown_as, form), status=status)


def _fetch(pk: int) -> Fault:
    return get_object_or_404(bench.whole(), pk=pk)


def _page(
    request: PageRequest, fault: Fault, refused: tuple[str, DeedForm] | None = None, status: int = 200
) -> HttpResponse:
    today = timezone.localdate()
    forms = {deed.shown_as: deed.form(fault=fault) for deed in DEEDS.values()}
    if refused is not None:
        forms[refused[0]] = refused[1]
    need = facts.needs_of([fault.machine_id], today)[fault.machine_id]
    open_to_them = facts.deeds_open_to(request.user, fault)
    if refused is not None and refused[1].visible_fields():
        open_to_them[refused[0]] = True  # what was typed stays, even where the deed is closed by now
    runs = eligibility.mends(request.user)
    shown = {
        "fault": fault,
        "tone": facts.tone_of(fault),
        "retired": facts.retired_in_words(fault) if fault.is_open else "",
        "next_step": facts.next_step(fault, today),
        "need": need if runs else None,
        "need_words": facts.need_in_words(fault, need, today) if runs and fault.is_open else "",
        "cautions": facts.cautions_for(fault.machine, fault.part),
        "used": fault.used.select_related("place__thing", "place__depot").order_by("pk"),
        "spares": ShelfPlace.objects.spares_of([fault.part]).get(fault.part.pk, 0) if fault.part else 0,
        "notes": fault.notes.select_related("by").order_by("revision"),
        "lines": facts.seen_at_checks(fault) if runs else [],
        "deeds": open_to_them,
        "forms": forms,
        "form": refused[1] if refused else None,
        "runs": runs,
    }
    return render(request, "upkeep/fault.html", shown, status=status)


@require_safe
def report_where(request: PageRequest) -> HttpResponse:
    """Choose the machine that something is wrong with."""
    kits = Kit.objects.in_use().with_machines().order_by("name", "pk")
    with_some = [kit for kit in kits if kit.machines_in_use]  # type: ignore[attr-defined]
    return render(request, "upkeep/report_where.html", {"kits": with_some})


@require_http_methods(["GET", "HEAD", "POST"])
def report(request: PageRequest, pk: int) -> HttpResponse:
    """Report a fault of a machine. Any member may."""
    machine = get_object_or_404(Machine.objects.select_related("kit"), pk=pk)
    if machine.retired_on:
        return render(request, "upkeep/report_retired.html", {"machine": machine}, status=409)
    asked = {name: request.GET[name] for name in ("part", "severity") if name in request.GET}
    form = ReportForm(request.POST if request.method == "POST" else None, machine=machine, initial=_known(asked))
    if request.method == "POST" and form.is_valid():
        try:
            fault = _report(request, machine, form)
        except FaultRefused as refusal:
            form.add_error(refusal.field, str(refusal))
        else:
            messages.success(request, _("Reported. The maintenance volunteers are told."))
            return redirect("upkeep:fault", pk=fault.pk)
    shown = {
        "machine": machine,
        "form": form,
        "faults": facts.open_faults_of([machine]),
        "sets_aside": form["severity"].value() == Severity.STOPS_USE,
    }
    return render(request, "upkeep/report.html", shown)


def _known(asked: dict[str, str]) -> dict[str, Any]:
    """What an address may choose beforehand: a part by its key, and how bad it is."""
    known = {"severity": asked.get("severity", "")}
    part = asked.get("part", "")
    return known | ({"part": int(part)} if part.isascii() and part.isdigit() and len(part) < 19 else {})


def _report(request: PageRequest, machine: Machine, form: ReportForm) -> Fault:
    typed = form.cleaned_data
    return upkeep.report_fault(
        machine=machine,
        part=typed["part"],
        note=typed["note"],
        severity=Severity(typed["severity"]),
        by=request.user,
        at=timezone.now(),
        form_key=typed["form_key"],
    )
