"""The day on a clock: who stands where, when each batch goes through, and when the last bottle is cool."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings.models import Booking
from kitshare.pressdays import clock as hours
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.clock_facts import ClockFacts, clock_facts


@require_http_methods(["GET", "HEAD", "POST"])
def clock(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Read the clock; change hands and hours, or see what a change would give without saving it."""
    booking = _booking(request, booking_pk)
    if request.method != "POST":
        return _page(request, clock_facts(booking=booking, member=request.user, scheme=request.our_scheme))
    try:
        hours.check_can_change(booking=booking, by=request.user)
    except hours.NotTheirClock as refused:
        raise PermissionDenied(str(refused)) from refused
    except hours.DayIsOver as refused:
        messages.error(request, str(refused))
        return redirect("pressdays:clock", booking_pk)
    facts = clock_facts(booking=booking, member=request.user, scheme=request.our_scheme, typed=request.POST)
    if "show" in request.POST or facts.hours is None:
        return _page(request, facts)
    return _save(request, facts, facts.hours)


@require_safe
def clock_preview(request: PageRequest, booking_pk: int) -> HttpResponse:
    """What the typed hands and hours would give: the part of the page that follows from them. Nothing is saved."""
    booking = _booking(request, booking_pk)
    if not request.htmx:
        return redirect("pressdays:clock", booking_pk)
    facts = clock_facts(booking=booking, member=request.user, scheme=request.our_scheme, typed=request.GET)
    return render(request, "pressdays/clock_preview.html", {"facts": facts, "form": facts.form})


def _save(request: PageRequest, facts: ClockFacts, wanted: hours.Hours) -> HttpResponse:
    try:
        hours.save_hours(
            booking=facts.booking,
            hours=wanted,
            by=request.user,
            at=timezone.now(),
            seen_revision=facts.form.seen_revision if facts.form else None,
        )
    except hours.ClockRefused as refused:
        if facts.form:
            facts.form.refuse(refused)
        return _page(request, facts)
    messages.success(request, _("Hands and hours are saved. Everybody who sees this booking sees them."))
    return redirect("pressdays:clock", facts.booking.pk)


def _booking(request: PageRequest, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).select_related("village"), pk=pk)


def _page(request: PageRequest, facts: ClockFacts) -> HttpResponse:
    # `form` by its own name, so that the frame can say "Error:" in the title.
    return render(request, "pressdays/clock.html", {"facts": facts, "form": facts.form})
