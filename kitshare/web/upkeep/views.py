"""The workbench, reporting, and the bookings at risk."""

from typing import Any, Final

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
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
from kitshare.kits.pictures import PhotoRefused
from kitshare.rules.checklists import Severity
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.photo_models import PhotoWhen
from kitshare.upkeep.picturing import keep_fault_photo
from kitshare.upkeep.refusals import FaultRefused
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.lists import on_pages
from kitshare.web.upkeep import bench, facts
from kitshare.web.upkeep.forms import ReportForm
from kitshare.web.upkeep.tables import AtRiskTable, ReportedTable, WorkTable
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
def reported(request: PageRequest) -> HttpResponse:
    """What became of each fault that the reader reported."""
    today = timezone.localdate()
    theirs = bench.whole().filter(reported_by=request.user).prefetch_related("part__also_serves")
    table = ReportedTable(theirs.order_by("-reported_at", "-pk"))
    on_pages(request, table)
    page = list(table.page.object_list.data)
    for fault in page:
        fault.line = line_of_fault(fault, today)
        fault.became = facts.became_in_words(fault, today)
    return render(request, "upkeep/reported.html", {"table": table, "is_empty": not page})


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
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = ReportForm(*sent, machine=machine, initial=_known(asked))
    if request.method == "POST" and form.is_valid():
        try:
            fault = _report(request, machine, form)
        except FaultRefused as refusal:
            form.add_error(refusal.field, str(refusal))
        else:
            messages.success(request, _("Reported. The maintenance volunteers are told."))
            _keep_photo_of_report(request, fault, form.cleaned_data["photo"])
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


def _keep_photo_of_report(request: PageRequest, fault: Fault, upload: "UploadedFile[bytes] | None") -> None:
    """The report stands, whatever becomes of its photo; what is wrong with that is said."""
    if upload is None:
        return
    try:
        keep_fault_photo(fault=fault, upload=upload, when=PhotoWhen.BEFORE, by=request.user, at=timezone.now())
    except PhotoRefused as refusal:
        messages.warning(request, _("The photo is not kept: %(why)s") % {"why": refusal})
