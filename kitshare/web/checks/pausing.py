"""A check put down for a while, and taken up again by the same person or another."""

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from kitshare.bookings.models import Booking
from kitshare.checks import pausing
from kitshare.checks.lines import ListedPart, pickup_list, return_list
from kitshare.checks.models import CheckKind
from kitshare.checks.pausing import TooLongToKeep
from kitshare.checks.sent_models import PausedSheet
from kitshare.people.models import Member
from kitshare.web.access import PageRequest
from kitshare.web.checks.phone import fields_of
from kitshare.web.checks.photos import booking_at_hand
from kitshare.web.checks.sheets import CheckSheet
from kitshare.web.phones import is_phone, not_theirs, wrong_member
from kitshare.web.templatetags.kitshare import moment


@require_POST
def pause(request: PageRequest, kind: str, pk: int) -> HttpResponse:
    """Keep what is ticked so far, for whoever carries on."""
    if refused := wrong_member(request):
        return refused
    booking = booking_at_hand(request.user, pk) if kind in CheckKind.values else None
    if booking is None:
        if is_phone(request):
            return not_theirs()
        raise Http404
    try:
        kept = _keep(request, booking, CheckKind(kind))
    except TooLongToKeep as refusal:
        return _answer(request, booking, {"error": str(refusal)}, status=422)
    words = _("Kept at %(time)s, %(seen)d of %(all)d looked at. Others who may do this check can carry on.")
    said = {"time": f"{timezone.localtime(kept.paused_at):%H:%M}", "seen": kept.seen, "all": kept.total}
    return _answer(request, booking, {"words": words % said, "at": kept.paused_at.isoformat()})


def begun_by(request: PageRequest, booking: Booking, kind: CheckKind) -> list[dict[str, object]]:
    """What people began of this check, in words; the newest first."""
    return [
        {"pause": one, "words": _words(one, request.user), "is_taken_up": request.GET.get("carry_on") == str(one.pk)}
        for one in pausing.pauses_of(booking, kind)
    ]


def carried_on(request: PageRequest, booking: Booking, kind: CheckKind) -> dict[str, str] | None:
    """The fields of the pause that somebody chose to carry on; None where there is none such."""
    number = request.GET.get("carry_on", "")
    pauses = {str(one.pk): one for one in pausing.pauses_of(booking, kind)} if number else {}
    return pauses[number].fields if number in pauses else None


def _words(pause: PausedSheet, member: Member) -> str:
    said = {"who": pause.by.name, "when": moment(pause.began_at), "seen": pause.seen, "all": pause.total}
    if pause.by_id == member.pk:
        return _("You began at %(when)s: %(seen)d of %(all)d looked at.") % said
    return _("%(who)s began at %(when)s: %(seen)d of %(all)d looked at.") % said


def _keep(request: PageRequest, booking: Booking, kind: CheckKind) -> PausedSheet:
    now = timezone.now()
    sheet = CheckSheet(
        booking=booking, kind=kind, listed=_listed(booking, kind), data=request.POST, files=request.FILES
    )
    sheet.keep_photos(by=request.user, at=now)
    fields = fields_of(request)
    fields |= {line.add_prefix("photo_key"): str(line.kept_photo.key) for line in sheet.lines if line.kept_photo}
    return pausing.pause_sheet(
        booking=booking, kind=kind, fields=fields, seen=sheet.done, total=sheet.total, by=request.user, at=now
    )


def _listed(booking: Booking, kind: CheckKind) -> list[ListedPart]:
    if kind == CheckKind.PICKUP:
        return pickup_list(booking)
    relay = getattr(booking, "relay_from", None) if kind == CheckKind.RELAY else None
    return return_list(relay.first if relay else booking)


def _answer(request: PageRequest, booking: Booking, said: dict[str, str], status: int = 200) -> HttpResponse:
    if is_phone(request):
        return JsonResponse(said, status=status)
    if "error" in said:
        messages.error(request, said["error"])
    else:
        messages.success(request, said["words"])
    return redirect("bookings:show", booking.pk)
