"""Choosing who of a village signs for a booking."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings import eligibility, signing
from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused, NotTheirs
from kitshare.web.access import PageRequest
from kitshare.web.bookings.signer_form import SignerForm


def sign_over(request: PageRequest, pk: int) -> HttpResponse:
    """Choose another borrower of the village, for instance before an account is closed."""
    booking = get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)
    refusal: BookingRefused | None = None
    form = SignerForm(request.POST if request.method == "POST" else None, booking=booking)
    try:
        eligibility.check_can_sign_over(booking=booking, by=request.user)
        if form.is_valid():
            signing.sign_over(booking=booking, by=request.user, at=timezone.now(), **form.cleaned_data)
            messages.success(request, _("Saved. Whom it concerns is told."))
            return redirect("bookings:show", pk=pk)
    except NotTheirs as not_theirs:
        raise PermissionDenied(str(not_theirs)) from not_theirs
    except BookingRefused as refused:
        refusal = refused
        booking.refresh_from_db()
        typed = {"borrower": request.POST["borrower"]} if "borrower" in request.POST else {}
        form = SignerForm(booking=booking, initial=typed)
    shown = {"form": form, "booking": booking, "refusal": refusal}
    return render(request, "bookings/sign_over.html", shown, status=409 if refusal else 200)
