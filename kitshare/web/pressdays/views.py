"""The plan of a press day: how much juice, what to bring for it, and how that was worked out."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings.models import Booking
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.refusals import NotAhead, NotTheirsToPlan, PlanChangedMeanwhile, PlanRefused
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.facts import PlanFacts, plan_facts


@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Read a plan; change it, or see what a change would give without saving it."""
    booking = _booking(request, booking_pk)
    if request.method != "POST":
        facts = plan_facts(booking=booking, member=request.user, scheme=request.our_scheme)
        return _plan_page(request, facts)
    try:
        pressdays.check_can_plan(booking=booking, by=request.user)
    except NotTheirsToPlan as refused:
        raise PermissionDenied(str(refused)) from refused
    except NotAhead as refused:
        messages.error(request, str(refused))
        return redirect("pressdays:plan", booking_pk)
    facts = plan_facts(booking=booking, member=request.user, scheme=request.our_scheme, typed=request.POST)
    if "show" in request.POST:
        return _plan_page(request, facts)
    return _save(request, facts)


@require_safe
def preview(request: PageRequest, booking_pk: int) -> HttpResponse:
    """What the typed figures would give: the part of the page that follows from them. Nothing is saved."""
    booking = _booking(request, booking_pk)
    if not request.htmx:
        return redirect("pressdays:plan", booking_pk)
    facts = plan_facts(booking=booking, member=request.user, scheme=request.our_scheme, typed=request.GET)
    return render(request, "pressdays/preview.html", {"plan": facts})


def _save(request: PageRequest, facts: PlanFacts) -> HttpResponse:
    form = facts.form
    if form is not None and form.is_valid():
        try:
            pressdays.save_plan(
                booking=facts.booking,
                yield_expected=form.cleaned_data["yield_expected"],
                shares=form.shares,
                by=request.user,
                at=timezone.now(),
                seen_revision=form.seen_revision,
            )
        except PlanRefused as refused:
            form.add_error(refused.field, str(refused))
            if isinstance(refused, PlanChangedMeanwhile):
                form.seen_revision = refused.plan.revision
        else:
            messages.success(request, _("The plan is saved. Everybody who sees this booking sees it."))
            if "from_booking" in request.POST:
                return redirect(f"{reverse('bookings:show', args=[facts.booking.pk])}#plan-title")
            return redirect("pressdays:plan", facts.booking.pk)
    return _plan_page(request, facts)


def _booking(request: PageRequest, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).select_related("village"), pk=pk)


def _plan_page(request: PageRequest, facts: PlanFacts) -> HttpResponse:
    # `form` by its own name, so that the frame can say "Error:" in the title.
    return render(request, "pressdays/plan.html", {"plan": facts, "form": facts.form})
