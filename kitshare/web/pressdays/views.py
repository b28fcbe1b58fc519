"""The plan of a press day: how much juice, what to bring for it, and how that was worked out."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings.models import Booking
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.refusals import NotAhead, NotTheirsToPlan, PlanRefused
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.facts import PlanFacts, plan_facts


@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Read a plan; change it, or see what a change would give without saving it."""
    booking = _booking(request, booking_pk)
    if request.method != "POST":
        return _plan_page(request, _facts(request, booking))
    try:
        pressdays.check_can_plan(booking=booking, by=request.user)
    except NotTheirsToPlan as refused:
        raise PermissionDenied(str(refused)) from refused
    except NotAhead as refused:
        messages.error(request, str(refused))
        return redirect("pressdays:plan", booking_pk)
    facts = _facts(request, booking, request.POST)
    if "show" in request.POST or "more" in request.POST:
        return _plan_page(request, facts)
    return _save(request, facts)


@require_safe
def preview(request: PageRequest, booking_pk: int) -> HttpResponse:
    """What the typed figures would give: the part of the page that follows from them. Nothing is saved."""
    booking = _booking(request, booking_pk)
    if not request.htmx:
        return redirect("pressdays:plan", booking_pk)
    return render(request, "pressdays/preview.html", {"plan": _facts(request, booking, request.GET)})


def _save(request: PageRequest, facts: PlanFacts) -> HttpResponse:
    form = facts.form
    wanted = form.wanted() if form else None
    if form is not None and wanted is not None and form.is_valid():
        try:
            pressdays.save_plan(
                booking=facts.booking,
                wanted=wanted,
                fruit=form.fruit,
                seen_fruit=form.seen_fruit,
                seen_revision=form.seen_revision,
                by=request.user,
                at=timezone.now(),
            )
        except PlanRefused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("The plan is saved. Everybody who sees this booking sees it."))
            return redirect("pressdays:plan", facts.booking.pk)
    return _plan_page(request, facts)


def _booking(request: PageRequest, pk: int) -> Booking:
    found = Booking.objects.visible_to(request.user).select_related("village").prefetch_related("machines")
    return get_object_or_404(found, pk=pk)


def _facts(request: PageRequest, booking: Booking, typed: QueryDict | None = None) -> PlanFacts:
    machines = sorted(booking.machines.all(), key=lambda machine: (machine.position, machine.pk))
    return plan_facts(booking=booking, member=request.user, scheme=request.our_scheme, machines=machines, typed=typed)


def _plan_page(request: PageRequest, facts: PlanFacts) -> HttpResponse:
    # `form` by its own name, so that the frame can say "Error:" in the title.
    return render(request, "pressdays/plan.html", {"plan": facts, "form": facts.form})
