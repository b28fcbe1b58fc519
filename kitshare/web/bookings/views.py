"""The list of bookings, a booking's own page, and the deeds on it."""

from collections.abc import Callable
from datetime import date
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.bookings import actions as bookings
from kitshare.bookings import eligibility, lateness, recording
from kitshare.bookings.models import Booking, BookingQuerySet, Stage
from kitshare.bookings.refusals import BookingRefused, NotTheirs
from kitshare.pressdays.recording import WENT_OUT
from kitshare.web.access import PageRequest
from kitshare.web.bookings import facts
from kitshare.web.bookings.forms import CallOffForm, DeclineForm, ReasonForm, RevisionForm
from kitshare.web.bookings.relay_facts import relays_of
from kitshare.web.bookings.tables import STAGE_COLOURS, BookingTable
from kitshare.web.checks.facts import handovers_of
from kitshare.web.heat.facts import heat_line_of
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import history_of
from kitshare.web.pressdays.facts import plan_facts
from kitshare.web.pressdays.gave_facts import gave_facts
from kitshare.web.upkeep.facts import open_faults_of
from kitshare.web.waiting.facts import line_of

WHEN: Final = {
    "coming": gettext_lazy("still to come or out"),
    "over": gettext_lazy("over"),
    "all": gettext_lazy("all"),
}


@require_safe
def booking_list(request: PageRequest) -> HttpResponse:
    """Every booking that the member may see, by when and by stage."""
    when = request.GET.get("when", "")
    when = when if when in WHEN else "coming"
    stage = request.GET.get("stage", "")
    stage = stage if stage in Stage.values else ""
    found = _when(Booking.objects.visible_to(request.user), when, timezone.localdate())
    if stage:
        found = found.filter(stage=stage)
    table = BookingTable(found.with_people())
    if when != "coming":
        table.order_by = "-out_on"
    on_pages(request, table)
    shown = {
        "table": table,
        "when": when,
        "whens": WHEN.items(),
        "stage": stage,
        "stages": Stage.choices,
        "may_book": request.user.may_ask,
        "is_filtered": bool(stage) or when != "coming",
    }
    return render(request, "bookings/list.html", shown)


@require_safe
def show(request: PageRequest, pk: int) -> HttpResponse:
    """A booking's own page."""
    return _page(request, _fetch(request, pk))


@require_POST
def agree(request: PageRequest, pk: int) -> HttpResponse:
    """Promise the machines to the village."""

    def act(booking: Booking, revision: int) -> Booking:
        today = timezone.localdate()
        return bookings.agree(booking=booking, **_signed(request), today=today, revision=revision)

    return _one_tap(request, pk, act, done=_("Agreed. The village is told."))


@require_POST
def close(request: PageRequest, pk: int) -> HttpResponse:
    """Put the booking away."""

    def act(booking: Booking, revision: int) -> Booking:
        recording.check_revision(booking=booking, revision=revision)
        return bookings.close(booking=booking, **_signed(request))

    return _one_tap(request, pk, act, done=_("Closed."))


@require_http_methods(["GET", "HEAD", "POST"])
def decline(request: PageRequest, pk: int) -> HttpResponse:
    """Turn the village down, with a reason."""
    booking = _fetch(request, pk)
    check = eligibility.check_can_decline
    return _with_reason(request, booking, DeclineForm, "bookings/decline.html", check, bookings.decline)


@require_http_methods(["GET", "HEAD", "POST"])
def call_off(request: PageRequest, pk: int) -> HttpResponse:
    """Give up a booking: a page asks once more."""
    booking = _fetch(request, pk)
    check = eligibility.check_can_call_off
    return _with_reason(request, booking, CallOffForm, "bookings/call_off.html", check, bookings.call_off)


def _fetch(request: PageRequest, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _when(found: BookingQuerySet, when: str, today: date) -> BookingQuerySet:
    coming = Q(stage=Stage.OUT) | Q(stage__in=[Stage.WAITING, Stage.ASKED, Stage.AGREED], back_on__gte=today)
    if when == "coming":
        return found.filter(coming)
    return found.exclude(coming) if when == "over" else found


def _page(
    request: PageRequest, booking: Booking, refusal: BookingRefused | None = None, status: int = 200
) -> HttpResponse:
    today = timezone.localdate()
    matters = booking.is_ahead or booking.stage == Stage.OUT
    relays = relays_of(booking, request.user, today)
    faults = open_faults_of(booking.machines.all()) if matters else []
    shown = {
        "booking": booking,
        "colour": STAGE_COLOURS[Stage(booking.stage)],
        "next_step": facts.next_step(booking, today, relays),
        "is_overdue": booking.stage == Stage.OUT and booking.back_on < today,
        "faults": faults,
        "stopping": [fault for fault in faults if fault.tone == "stop"] if booking.is_ahead else [],
        "waits": lateness.waits_of(booking, today),
        "tests_first": facts.tests_first(booking.machines.all(), booking.out_on, today) if booking.is_ahead else [],
        "services_due": facts.services_due(booking.machines.all(), booking.out_on, today) if booking.is_ahead else [],
        "deeds": facts.deeds_open_to(request.user, booking, today),
        "plan": plan_facts(
            booking=booking, member=request.user, scheme=request.our_scheme, machines=list(booking.machines.all())
        ),
        "gave": gave_facts(booking, request.user) if booking.stage in WENT_OUT else None,
        "line": line_of(booking, request.user),
        "heat": heat_line_of(booking, request.user),
        "handovers": handovers_of(booking, request.user, today),
        "relays": relays,
        "history": history_of(booking, request.user, request.GET.get("before")),
        "refusal": refusal,
    }
    return render(request, "bookings/show.html", shown, status=status)


def _one_tap(request: PageRequest, pk: int, act: Callable[[Booking, int], Booking], *, done: str) -> HttpResponse:
    """A deed without a form of its own: refused, it says why on the booking's page."""
    booking = _fetch(request, pk)
    form = RevisionForm(request.POST)
    revision = form.cleaned_data["revision"] if form.is_valid() else 0
    try:
        act(booking, revision)
    except NotTheirs as refusal:
        raise PermissionDenied(str(refusal)) from refusal
    except BookingRefused as refusal:
        return _page(request, booking, refusal, status=409)
    messages.success(request, done)
    return redirect("bookings:show", pk=booking.pk)


def _with_reason(
    request: PageRequest,
    booking: Booking,
    form_class: type[ReasonForm],
    template: str,
    check: Callable[..., None],
    act: Callable[..., Booking],
) -> HttpResponse:
    """A deed that says why: a page asks, and sends it."""
    refusal: BookingRefused | None = None
    form = form_class(initial={"revision": booking.revision})
    try:
        if request.method != "POST":
            check(booking=booking, by=request.user)
        else:
            form = form_class(request.POST)
            if form.is_valid():
                act(booking=booking, **_signed(request), **form.cleaned_data)
                return redirect("bookings:show", pk=booking.pk)
    except NotTheirs as not_theirs:
        raise PermissionDenied(str(not_theirs)) from not_theirs
    except BookingRefused as refused:
        refusal = refused
        form = form_class(initial={"revision": booking.revision, "reason": request.POST.get("reason", "")})
    relays = relays_of(booking, request.user, timezone.localdate())
    shown = {"form": form, "booking": booking, "refusal": refusal, "relays": relays}
    return render(request, template, shown, status=409 if refusal else 200)
