"""Heat records: the batches of a booking, and each batch's own page."""

import csv
import io

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking
from kitshare.pressdays.heat_keeping import unpack
from kitshare.pressdays.heat_models import HeatDraft, HeatRecord, RecalledBatch
from kitshare.pressdays.heat_records import machines_of, why_not_record
from kitshare.rules.probes import Correction
from kitshare.web.access import PageRequest
from kitshare.web.heat.facts import told_of


@require_safe
def batches(request: PageRequest, booking_pk: int) -> HttpResponse:
    """The batches of a booking, each with its verdict, and the ways to add one."""
    found = Booking.objects.visible_to(request.user).select_related("village", "borrower")
    booking = get_object_or_404(found, pk=booking_pk)
    records = HeatRecord.objects.standing().filter(booking=booking).select_related("pasteuriser", "by")
    drafts = HeatDraft.objects.of(request.user).unsaved().filter(booking=booking)
    shown = {
        "booking": booking,
        "records": records.order_by("number", "pk"),
        "why_not": why_not_record(booking=booking, by=request.user),
        "drafts": drafts.defer("packed").order_by("-kept_at"),
        "has_pasteuriser": bool(machines_of(booking)),
    }
    return render(request, "heat/batches.html", shown)


@require_safe
def record(request: PageRequest, pk: int) -> HttpResponse:
    """One batch: the verdict in words with its numbers, the picture, and the bottles it stands for."""
    found = _fetch(request, pk)
    recalled = RecalledBatch.objects.open().filter(record__code=found.code).select_related("recall").first()
    shown = {
        "record": found,
        "booking": found.booking,
        "told": told_of(found),
        "replaced_by": HeatRecord.objects.filter(replaces=found).first(),
        "recalled": recalled,
        "may_replace": not why_not_record(booking=found.booking, by=request.user),
    }
    return render(request, "heat/record.html", shown)


@require_safe
def readings(request: PageRequest, pk: int) -> HttpResponse:
    """Every reading of a batch as a file: as it was sent, and put right."""
    found = _fetch(request, pk)
    log = unpack(found.readings.packed)
    put_right = Correction(gain=found.gain, offset_c=found.offset_c)
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(["minutes", "shown C", "corrected C"])
    pairs = zip(log.minutes, log.celsius, strict=True)
    rows.writerows((f"{minute:.4f}", f"{c:.3f}", f"{put_right.true_celsius(c):.3f}") for minute, c in pairs)
    answer = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    name = slugify(f"{found.shown_code} {found.filled_on:%Y-%m-%d}")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    answer["Cache-Control"] = "private, no-store"
    return answer


def _fetch(request: PageRequest, pk: int) -> HeatRecord:
    found = HeatRecord.objects.visible_to(request.user).with_where().select_related("probe_check", "replaces")
    record: HeatRecord = get_object_or_404(found, pk=pk)
    return record
