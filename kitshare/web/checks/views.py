"""Pickup and return: the sheet, the finished check, the printed list, and the photos."""

from collections.abc import Callable
from functools import partial
from uuid import UUID

from django.contrib import messages
from django.db.models import Prefetch
from django.http import FileResponse, Http404, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused
from kitshare.checks import actions as checks
from kitshare.checks.gates import HandoverRefused, check_pickup_can_start, check_return_can_start, why_not
from kitshare.checks.lines import handed_over, pickup_list, return_list
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, Photo
from kitshare.checks.photos import PhotoRefused
from kitshare.checks.recording import ChangedSinceSent
from kitshare.web.access import PageRequest
from kitshare.web.checks.sheets import CheckSheet


def pickup(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet with which a kit is handed over, or why it cannot be now."""
    booking = _booking(request, pk)
    today = timezone.localdate()
    check = partial(check_pickup_can_start, booking=booking, by=request.user, today=today)
    return _sheet_page(request, booking, CheckKind.PICKUP, check)


def return_(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet with which a kit is taken back, or why it cannot be now."""
    booking = _booking(request, pk)
    return _sheet_page(
        request, booking, CheckKind.RETURN, partial(check_return_can_start, booking=booking, by=request.user)
    )


@require_safe
def show(request: PageRequest, pk: int) -> HttpResponse:
    """A finished check: who, when, and what was seen."""
    lines = CheckLine.objects.in_packing_order().select_related("part__machine", "photo", "fault")
    mine = HandoverCheck.objects.filter(booking__in=Booking.objects.visible_to(request.user))
    found = mine.select_related("booking__village", "by").prefetch_related(
        Prefetch("lines", queryset=lines), "booking__machines__kit"
    )
    check = get_object_or_404(found, pk=pk)
    before = _lines_at_pickup(check)
    rows = [{"line": line, "before": before.get(line.part_id), "is_loud": _is_loud(line)} for line in check.lines.all()]
    context = {"check": check, "rows": rows, "loud": [row for row in rows if row["is_loud"]], "compares": bool(before)}
    return render(request, "checks/show.html", context)


@require_safe
def print_(request: PageRequest, pk: int) -> HttpResponse:
    """The list on paper, for a yard without signal: a box to tick at each end."""
    booking = _booking(request, pk)
    sheet = CheckSheet(booking=booking, kind=CheckKind.PICKUP, listed=pickup_list(booking))
    return render(request, "checks/print.html", {"booking": booking, "sheet": sheet})


@require_safe
def photo(request: PageRequest, key: UUID) -> FileResponse:
    """A photo, for those who may see its booking. It never changes, so a phone may keep it; nobody in between may."""
    mine = Photo.objects.filter(booking__in=Booking.objects.visible_to(request.user))
    kept = get_object_or_404(mine, key=key)
    try:
        picture = kept.image.open("rb")
    except OSError as error:
        raise Http404 from error
    answer = FileResponse(picture, content_type="image/jpeg", filename=f"{kept.key}.jpg")
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@require_POST
def keep_photo(request: PageRequest, pk: int) -> JsonResponse:
    """Keep one photo as soon as it is taken, so that it is safe long before the sheet is signed."""
    booking = _booking(request, pk)
    upload = request.FILES.get("photo")
    if upload is None:
        return JsonResponse({"error": _("No photo came along.")}, status=422)
    try:
        kept = checks.keep_photo(booking=booking, upload=upload, by=request.user, at=timezone.now())
    except PhotoRefused as refusal:
        return JsonResponse({"error": str(refusal)}, status=422)
    return JsonResponse({"key": str(kept.key), "address": reverse("checks:photo", args=[kept.key])})


def _booking(request: PageRequest, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)


def _sheet_page(request: PageRequest, booking: Booking, kind: CheckKind, check: Callable[[], None]) -> HttpResponse:
    listed = pickup_list(booking) if kind == CheckKind.PICKUP else return_list(booking)
    if request.method == "POST":
        sheet = CheckSheet(booking=booking, kind=kind, listed=listed, data=request.POST, files=request.FILES)
        answer = _record(request, sheet)
        if answer is not None:
            return answer
    else:
        if refusal := why_not(check):
            return _not_now(request, booking, kind, refusal)
        sheet = CheckSheet(booking=booking, kind=kind, listed=listed)
    return render(request, "checks/sheet.html", {"booking": booking, "form": sheet, "sheet": sheet})


def _record(request: PageRequest, sheet: CheckSheet) -> HttpResponse | None:
    """Record what was sent and go on to it; None when something is wrong with it, which the sheet then says."""
    sheet.keep_photos(by=request.user, at=timezone.now())
    stops = sheet.is_pickup and request.POST.get("deed") == "stop"
    if sheet.errors and not (stops and sheet.only_unseen_are_wrong):
        sheet.mark_stops()
        return None
    deed = checks.complete_return_check
    if sheet.is_pickup:
        deed = checks.stop_pickup if stops else checks.complete_pickup_check
    try:
        check = deed(
            booking=sheet.booking,
            seen=sheet.seen(),
            signature=sheet.signature_form.signature(),
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        )
    except ChangedSinceSent as refusal:
        sheet.refuse(refusal)
        sheet.recorded = refusal.recorded if refusal.recorded.booking_id == sheet.booking.pk else None
        return None
    except (HandoverRefused, BookingRefused) as refusal:
        sheet.refuse(refusal)
        return None
    messages.success(request, _word_after(check))
    return HttpResponseRedirect(reverse("checks:show", args=[check.pk]))


def _word_after(check: HandoverCheck) -> str:
    if check.outcome == Outcome.STOPPED:
        return _(
            "Reported. The kit stays here, and the coordinator is told now. Telephone too if you stand at the depot."
        )
    if check.kind == CheckKind.PICKUP:
        return _("Handed over. Drive with care; bring the kit back clean and dry.")
    return _("Taken back. Thank you.")


def _not_now(request: PageRequest, booking: Booking, kind: CheckKind, refusal: HandoverRefused) -> HttpResponse:
    context = {
        "booking": booking,
        "is_pickup": kind == CheckKind.PICKUP,
        "reason": str(refusal),
        "done": handed_over(booking, kind),
        "faults": getattr(refusal, "faults", []),
    }
    return render(request, "checks/not_now.html", context)


def _lines_at_pickup(check: HandoverCheck) -> dict[int, CheckLine]:
    if check.kind != CheckKind.RETURN:
        return {}
    pickup = handed_over(check.booking, CheckKind.PICKUP)
    return {line.part_id: line for line in pickup.lines.select_related("photo")} if pickup else {}


def _is_loud(line: CheckLine) -> bool:
    short = line.count < line.expected_count and line.part.kind != "consumable"
    return bool(short or line.condition in {"damaged", "missing"} or line.fault_id or line.spare_fitted)
