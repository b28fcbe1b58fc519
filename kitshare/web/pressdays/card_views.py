"""The card of a press day, to be printed and pinned up in the yard."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.card_facts import card_facts


@require_safe
def card(request: PageRequest, booking_pk: int) -> HttpResponse:
    """One page: cautions, order of work, containers, acid, batches with times and a heat log, telephone numbers."""
    bookings = Booking.objects.visible_to(request.user).select_related("village", "borrower")
    booking = get_object_or_404(bookings, pk=booking_pk)
    return render(request, "pressdays/card.html", {"card": card_facts(booking=booking, scheme=request.our_scheme)})
