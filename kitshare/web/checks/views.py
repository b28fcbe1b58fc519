"""Pickup and return: the sheet, the finished check, the printed list, and the photos."""

from collections.abc import Callable
from functools import partial
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.db.models import Prefetch
from django.http import FileResponse, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from kitshare.bookings import briefing
from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.relay_models import Relay
from kitshare.checks import actions as checks
from kitshare.checks import relaying
from kitshare.checks.gates import (
    BriefingFirst,
    HandoverRefused,
    check_pickup_can_start,
    check_return_can_start,
    is_early,
    why_not,
)
from kitshare.checks.lines import handed_over, pickup_list, return_list
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, Photo
from kitshare.checks.recording import ChangedSinceSent
from kitshare.kits.sharing import travels_with
from kitshare.web import phones
from kitshare.web.access import PageRequest
from kitshare.web.checks import phone
from kitshare.web.checks.beside import second_checks
from kitshare.web.checks.facts import to_mind
from kitshare.web.checks.paper import is_of_this_moment, may_be_typed_in, paper_for, terms
from kitshare.web.checks.pausing import begun_by, carried_on
from kitshare.web.checks.printed import pages
from kitshare.web.checks.sheets import CheckSheet
from kitshare.web.phone.keeping import asks_ahead, kept_on_a_phone, not_for_later
from kitshare.web.photos import photo_answer

# With which deed each kind of sheet is finished, and with which it is stopped.
DEEDS: Final[dict[str, tuple[Callable[..., HandoverCheck], Callable[..., HandoverCheck] | None]]] = {
    CheckKind.PICKUP: (checks.complete_pickup_check, checks.stop_pickup),
    CheckKind.RETURN: (checks.complete_return_check, None),
    CheckKind.RELAY: (relaying.complete_relay_check, relaying.stop_relay),
}


@kept_on_a_phone
def pickup(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet with which a kit is handed over, or why it cannot be now."""
    if phones.is_phone(request) and request.method == "POST":
        return phone.take_of_booking(request, pk, CheckKind.PICKUP)
    booking = _booking(request, pk)
    today = timezone.localdate()
    check = partial(check_pickup_can_start, booking=booking, by=request.user, today=today)
    return _sheet_page(request, booking, CheckKind.PICKUP, check)


@kept_on_a_phone
def return_(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet with which a kit is taken back, or why it cannot be now."""
    if phones.is_phone(request) and request.method == "POST":
        return phone.take_of_booking(request, pk, CheckKind.RETURN)
    booking = _booking(request, pk)
    return _sheet_page(
        request, booking, CheckKind.RETURN, partial(check_return_can_start, booking=booking, by=request.user)
    )


@require_safe
@kept_on_a_phone
def show(request: PageRequest, pk: int) -> HttpResponse:
    """A finished check: who, when, and what was seen."""
    lines = CheckLine.objects.in_packing_order().select_related("part__machine", "photo", "fault")
    lines = lines.prefetch_related("part__also_serves")
    mine = HandoverCheck.objects.visible_to(request.user)
    found = mine.select_related("booking__village", "from_booking__village", "by").prefetch_related(
        Prefetch("lines", queryset=lines), "booking__machines__kit"
    )
    check = get_object_or_404(found, pk=pk)
    before = _lines_at_pickup(check)
    rows = _rows(check, before)
    own = Booking.objects.visible_to(request.user).filter(pk__in=[check.booking_id, check.from_booking_id])
    back = check.from_booking if check.from_booking and not own.filter(pk=check.booking_id).exists() else check.booking
    context = {
        "check": check,
        "back": back,
        "day_is_over": back == check.from_booking or check.kind == CheckKind.RETURN,
        "rows": rows,
        "loud": [row for row in rows if row["is_loud"]],
        "seconds": second_checks(check, list(check.lines.all())),
        "not_seen": check.not_seen.order_by("pk") if check.written_at else [],
        "compares": bool(before),
    }
    return render(request, "checks/show.html", context)


@require_safe
@kept_on_a_phone
def print_(request: PageRequest, pk: int) -> HttpResponse:
    """The list on paper, for a yard without signal: a box to tick at each end."""
    booking = _booking(request, pk)
    sheet = CheckSheet(booking=booking, kind=CheckKind.PICKUP, listed=pickup_list(booking))
    return render(request, "checks/print.html", {"booking": booking, "pages": pages(sheet)})


@require_safe
def photo(request: PageRequest, key: UUID) -> FileResponse | HttpResponse:
    """A photo, for those who may see its booking. It never changes, so a phone may keep it; nobody in between may."""
    kept = get_object_or_404(Photo.objects.visible_to(request.user), key=key)
    return photo_answer(kept.image, kept.key)


def _booking(request: PageRequest, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)


def _sheet_page(request: PageRequest, booking: Booking, kind: CheckKind, check: Callable[[], None]) -> HttpResponse:
    listed = pickup_list(booking) if kind == CheckKind.PICKUP else return_list(booking)
    paper = paper_for(request, booking, kind)
    refusal = None
    if request.method == "POST":
        sheet = CheckSheet(booking=booking, kind=kind, listed=listed, data=request.POST, files=request.FILES)
        sheet.paper = paper
        answer = record(request, sheet, booking=booking)
        if answer is not None:
            return answer
    else:
        refusal = why_not(check)
        is_for_later = refusal and is_early(refusal) and asks_ahead(request)
        if refusal and not is_for_later and not (paper and may_be_typed_in(refusal)):
            return not_now(request, booking, kind, refusal)
        sheet = CheckSheet(booking=booking, kind=kind, listed=listed, begun=carried_on(request, booking, kind))
        sheet.paper = paper
    pauses = begun_by(request, booking, kind)
    shown = {"booking": booking, "form": sheet, "sheet": sheet, "pauses": pauses, "early": refusal}
    if kind == CheckKind.PICKUP:
        shown |= {"is_unbriefed": briefing.is_open(booking), "to_mind": to_mind(booking, timezone.localdate())}
    answer = render(request, "checks/sheet.html", shown)
    return not_for_later(answer) if is_of_this_moment(request) else answer


def record(request: PageRequest, sheet: CheckSheet, **about: Booking | Relay) -> HttpResponse | None:
    """Record what was sent and go on to it; None when something is wrong with it, which the sheet then says.

    `about` names what the deed is done to: a booking, or a relay.
    """
    sheet.keep_photos(by=request.user, at=timezone.now())
    stops = sheet.may_stop and request.POST.get("deed") == "stop"
    if sheet.errors and not ((stops or sheet.unseen_may_be) and sheet.only_unseen_are_wrong):
        sheet.mark_stops()
        return None
    finish, stop = DEEDS[sheet.kind]
    try:
        check = (stop if stops and stop else finish)(
            **about,
            seen=sheet.seen(),
            signature=sheet.signature_form.signature(),
            by=request.user,
            **terms(request, sheet.paper),
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
    if check.kind == CheckKind.RELAY and check.outcome == Outcome.HANDED_OVER:
        return _("Handed on. The kit is with the next village now. Drive with care.")
    if check.outcome == Outcome.STOPPED:
        return _(
            "Reported. The kit stays here, and the coordinator is told now. Telephone too if you stand at the depot."
        )
    if check.kind == CheckKind.PICKUP:
        return _("Handed over. Drive with care; bring the kit back clean and dry.")
    return _("Taken back. Thank you.")


def not_now(
    request: PageRequest,
    booking: Booking,
    kind: CheckKind,
    refusal: HandoverRefused,
    done: HandoverCheck | None = None,
) -> HttpResponse:
    """Why no check can be made now, with the one that was made before if there is one."""
    context = {
        "booking": booking,
        "kind": kind,
        "reason": str(refusal),
        "done": done or handed_over(booking, kind),
        "stops": getattr(refusal, "reasons", []),
        "relay": getattr(refusal, "relay", None),
        "is_briefing": isinstance(refusal, BriefingFirst),
        "may_type_in": request.user.coordinates and may_be_typed_in(refusal),
    }
    answer = render(request, "checks/not_now.html", context)
    is_soon_otherwise = is_early(refusal) or isinstance(refusal, BriefingFirst)
    return not_for_later(answer) if is_soon_otherwise else answer


def _lines_at_pickup(check: HandoverCheck) -> dict[int, CheckLine]:
    if check.kind == CheckKind.PICKUP:
        return {}
    pickup = handed_over(check.from_booking or check.booking, CheckKind.PICKUP)
    return {line.part_id: line for line in pickup.lines.select_related("photo")} if pickup else {}


def _rows(check: HandoverCheck, before: dict[int, CheckLine]) -> list[dict[str, Any]]:
    """The lines in packing order, each with the machine with which its part travelled, and how it went out."""
    machines = list(check.booking.machines.all())
    lines = [(travels_with(line.part, machines), line) for line in check.lines.all()]
    lines.sort(key=lambda pair: (pair[0].position, pair[0].pk, pair[1].part.position, pair[1].part_id))
    return [
        {"machine": machine, "line": line, "before": before.get(line.part_id), "is_loud": _is_loud(line)}
        for machine, line in lines
    ]


def _is_loud(line: CheckLine) -> bool:
    short = line.count < line.expected_count and line.part.kind != "consumable"
    return bool(short or line.condition in {"damaged", "missing"} or line.fault_id or line.spare_fitted)
