"""Sending a heat log: by typing, by pasting, or as a logger's file. It is kept, and the next page looks it over."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings.models import Booking
from kitshare.pressdays import heat_drafts
from kitshare.pressdays.heat_models import Came, HeatRecord
from kitshare.pressdays.heat_records import why_not_record
from kitshare.web.access import PageRequest
from kitshare.web.heat.forms import (
    MOST_BYTES,
    ROWS_AT_FIRST,
    ROWS_AT_MOST,
    ROWS_MORE,
    PastedForm,
    TypedForm,
    UploadForm,
)


@require_http_methods(["GET", "HEAD", "POST"])
def type_in(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Type the readings in, a time and a temperature in each row."""
    booking, refusal = _may_add(request, booking_pk)
    if refusal:
        return refusal
    rows = _rows(request.POST.get("rows", ""))
    if "more" in request.POST:
        # Only longer: what was typed so far is not judged yet.
        form = TypedForm(initial=request.POST.dict(), rows=min(rows + ROWS_MORE, ROWS_AT_MOST))
        return _page(request, "heat/type_in.html", booking, form)
    form = TypedForm(request.POST if request.method == "POST" else None, rows=rows)
    if request.method == "POST" and form.is_valid():
        return _keep(request, booking, Came.TYPED, form.text.encode())
    return _page(request, "heat/type_in.html", booking, form)


@require_http_methods(["GET", "HEAD", "POST"])
def paste(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Paste the readings, in whatever shape they are."""
    booking, refusal = _may_add(request, booking_pk)
    if refusal:
        return refusal
    form = PastedForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        return _keep(request, booking, Came.PASTED, form.cleaned_data["text"].encode("utf-8", "replace"))
    return _page(request, "heat/paste.html", booking, form)


# What a form may hold in memory; a longer log is sent as a file, and the page that says so comes before it is read.
paste.most_bytes = 2_400_000  # type: ignore[attr-defined]


@require_http_methods(["GET", "HEAD", "POST"])
def upload(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Send a logger's file. One that can be read as text but not as a log is shown, to be mended by hand."""
    booking, refusal = _may_add(request, booking_pk)
    if refusal:
        return refusal
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["file"]
        return _keep(request, booking, Came.UPLOADED, sent["data"], file_name=sent["name"])
    if form.mendable:
        pasted = PastedForm({"text": form.mendable})
        return _page(request, "heat/paste.html", booking, pasted, from_file=True)
    return _page(request, "heat/upload.html", booking, form)


upload.most_bytes = MOST_BYTES + 100_000  # type: ignore[attr-defined]


@require_safe
def replace(request: PageRequest, pk: int) -> HttpResponse:
    """Put another record in the place of one that was wrong: choose how its readings come."""
    record = get_object_or_404(HeatRecord.objects.visible_to(request.user).standing().with_where(), pk=pk)
    why_not = why_not_record(booking=record.booking, by=request.user)
    if why_not:
        messages.error(request, why_not)
        return redirect("heat:record", pk)
    return render(request, "heat/replace.html", {"record": record, "booking": record.booking, "replaces": record})


def _may_add(request: PageRequest, booking_pk: int) -> tuple[Booking, HttpResponse | None]:
    """The booking, and the answer to somebody who may only read it."""
    found = Booking.objects.visible_to(request.user).select_related("village")
    booking: Booking = get_object_or_404(found, pk=booking_pk)
    why_not = why_not_record(booking=booking, by=request.user)
    if not why_not:
        return booking, None
    messages.error(request, why_not)
    return booking, redirect("heat:batches", booking_pk)


def _replaced(request: PageRequest, booking: Booking) -> HeatRecord | None:
    """The record in whose place the new one is to stand, if the address names one."""
    key = request.GET.get("replaces", "")
    if not key:
        return None
    standing = HeatRecord.objects.standing().filter(booking=booking)
    found = standing.filter(pk=int(key)).first() if key.isascii() and key.isdecimal() and len(key) < 19 else None
    if found is None:
        raise Http404
    return found


def _rows(typed: str) -> int:
    """How many rows the form had; a form made by hand gets no more than fit."""
    if not (typed.isascii() and typed.isdecimal() and len(typed) < 5):
        return ROWS_AT_FIRST
    return min(max(int(typed), ROWS_AT_FIRST), ROWS_AT_MOST)


def _keep(request: PageRequest, booking: Booking, came: Came, data: bytes, file_name: str = "") -> HttpResponse:
    draft = heat_drafts.keep(
        booking=booking,
        came=came,
        packed=heat_drafts.packed(data),
        file_name=file_name,
        replaces=_replaced(request, booking),
        by=request.user,
        at=timezone.now(),
    )
    return redirect("heat:look", key=draft.key)


def _page(request: PageRequest, template: str, booking: Booking, form: Any, **facts: Any) -> HttpResponse:
    replaces = _replaced(request, booking)
    shown = {"booking": booking, "form": form, "replaces": replaces, "most_rows": ROWS_AT_MOST, **facts}
    status = 422 if request.method == "POST" and form.errors else 200
    return render(request, template, shown, status=status)
