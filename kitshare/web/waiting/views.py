"""The waiting list, an offer with its two buttons, and the deeds on a place in the list."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings import offers, waiting
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.refusals import BookingRefused, NotTheirs
from kitshare.bookings.waiting_models import Offer
from kitshare.bookings.waiting_refusals import NotWaiting, OfferEnded
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.lists import on_pages
from kitshare.web.waiting.facts import all_lines, line_of
from kitshare.web.waiting.forms import LeaveForm, OrderForm, OutOfTurnForm, WaitingDeedForm
from kitshare.web.waiting.tables import WaitingTable


@require_safe
def waiting_list(request: PageRequest) -> HttpResponse:
    """Who waits for which days, in order: all for those who run the scheme, else a borrower's own villages."""
    table = WaitingTable(all_lines(request.user))
    on_pages(request, table)
    return render(request, "waiting/list.html", {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
def offer(request: PageRequest, pk: int) -> HttpResponse:
    """What is offered, with the two buttons. Looking answers nothing: mail programs follow links by themselves."""
    found = get_object_or_404(Offer.objects.visible_to(request.user).select_related("booking__village"), pk=pk)
    refusal: BookingRefused | None = None if found.is_open else OfferEnded(offer=found)
    status = 200
    if request.method == "POST":
        try:
            return _answer(request, found)
        except NotTheirs as not_theirs:
            raise PermissionDenied(str(not_theirs)) from not_theirs
        except BookingRefused as refused:
            found.refresh_from_db()
            refusal, status = refused, 409
    booking = Booking.objects.with_people().get(pk=found.booking_id)
    may_answer = request.user.acts_for(booking.village)
    shown = {"offer": found, "booking": booking, "refusal": refusal, "may_answer": may_answer}
    return render(request, "waiting/offer.html", shown, status=status)


def _answer(request: PageRequest, found: Offer) -> HttpResponse:
    signed = _signed(request)
    match request.POST.get("deed"):
        case "accept":
            booking = offers.accept_offer(offer=found, **signed, today=timezone.localdate())
            words = {"village": booking.village.name}
            messages.success(request, _("Accepted. The days are held for %(village)s, and are to be agreed.") % words)
        case "pass":
            booking = offers.pass_offer(offer=found, **signed)
            words = {"village": booking.village.name}
            messages.success(request, _("Passed. The next who wait are asked; %(village)s stays on the list.") % words)
        case _:
            return redirect("waiting:offer", pk=found.pk)
    return redirect("bookings:show", pk=booking.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def leave(request: PageRequest, pk: int) -> HttpResponse:
    """Give up a place: a page asks once more."""

    def act(booking: Booking, cleaned: dict[str, Any]) -> None:
        waiting.leave_list(booking=booking, **_signed(request), **cleaned)
        messages.success(request, _("%(village)s is off the waiting list.") % {"village": booking.village.name})

    def check(booking: Booking) -> None:
        waiting.check_can_leave(booking=booking, by=request.user)

    return _with_form(request, pk, LeaveForm, "waiting/leave.html", act, check)


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def order(request: PageRequest, pk: int) -> HttpResponse:
    """Overrule the order, with a reason."""

    def act(booking: Booking, cleaned: dict[str, Any]) -> None:
        earlier = cleaned.pop("where") == "earlier"
        waiting.move_in_order(booking=booking, earlier=earlier, **_signed(request), **cleaned)
        messages.success(request, _("Moved. The logbook says why."))

    return _with_form(request, pk, OrderForm, "waiting/order.html", act)


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def out_of_turn(request: PageRequest, pk: int) -> HttpResponse:
    """Offer the days to somebody though others come first, with a reason."""

    def act(booking: Booking, cleaned: dict[str, Any]) -> None:
        offers.offer_out_of_turn(booking=booking, **_signed(request), **cleaned)
        messages.success(request, _("Offered. %(village)s is told.") % {"village": booking.village.name})

    return _with_form(request, pk, OutOfTurnForm, "waiting/out_of_turn.html", act)


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _with_form(
    request: PageRequest,
    pk: int,
    form_class: type[WaitingDeedForm],
    template: str,
    act: Callable[[Booking, dict[str, Any]], None],
    check: Callable[[Booking], None] | None = None,
) -> HttpResponse:
    """A deed on a place in the list: a page asks, and sends it. Refused, it says why and keeps what was typed."""
    booking = get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)
    refusal: BookingRefused | None = None
    form = form_class(initial={"revision": booking.revision})
    try:
        if request.method != "POST":
            if check is not None:
                check(booking)
            if booking.stage != Stage.WAITING:
                raise NotWaiting(booking=booking)
        else:
            form = form_class(request.POST)
            if form.is_valid():
                act(booking, dict(form.cleaned_data))
                return redirect("bookings:show", pk=booking.pk)
    except NotTheirs as not_theirs:
        raise PermissionDenied(str(not_theirs)) from not_theirs
    except BookingRefused as refused:
        refusal = refused
        booking.refresh_from_db()
        form = form_class(initial=request.POST.dict() | {"revision": booking.revision})
    shown = {"form": form, "booking": booking, "refusal": refusal, "line": line_of(booking, request.user)}
    return render(request, template, shown, status=409 if refusal else 200)
