"""What phones send by themselves, and the answers in their own form: a sheet, a photo, a pause."""

import uuid
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, Final

from django.http import JsonResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.relay_models import Relay
from kitshare.checks import arriving
from kitshare.checks.arriving import KeyOfAnother, SheetRead
from kitshare.checks.lines import pickup_list, return_list
from kitshare.checks.models import CheckKind
from kitshare.checks.phone_clock import when_signed
from kitshare.kits.models import Part
from kitshare.web.access import PageRequest
from kitshare.web.checks.sheets import CheckSheet
from kitshare.web.forms import LONGEST_KEY
from kitshare.web.phones import not_theirs, wrong_member

NEVER_STORED: Final = "csrfmiddlewaretoken"


def take_of_booking(request: PageRequest, pk: int, kind: CheckKind) -> JsonResponse:
    """A pickup or a return."""
    if refused := wrong_member(request):
        return refused
    booking = Booking.objects.visible_to(request.user).with_people().filter(pk=pk).first()
    if booking is None:
        return not_theirs()
    listed = pickup_list(booking) if kind == CheckKind.PICKUP else return_list(booking)
    sheet = CheckSheet(booking=booking, kind=kind, listed=listed, data=request.POST, files=request.FILES)
    return take(request, sheet)


def take_of_relay(request: PageRequest, pk: int) -> JsonResponse:
    """A relay check, by somebody of either village."""
    if refused := wrong_member(request):
        return refused
    relay = Relay.objects.visible_to(request.user).with_bookings().filter(pk=pk).first()
    first, second = (relay.first, relay.second) if relay else _of_a_relay_undone(request)
    if first is None or second is None:
        return not_theirs()
    booking = Booking.objects.with_people().get(pk=second.pk)
    listed = return_list(first)
    sheet = CheckSheet(booking=booking, kind=CheckKind.RELAY, listed=listed, data=request.POST, files=request.FILES)
    return take(request, sheet, from_booking=first)


def _of_a_relay_undone(request: PageRequest) -> tuple[Booking | None, Booking | None]:
    """The two bookings that a sheet names itself: its relay was undone after it was signed."""
    named = [request.POST.get(name, "") for name in ("first", "second")]
    if not all(number.isascii() and number.isdigit() and len(number) <= LONGEST_KEY for number in named):
        return None, None
    found = Booking.objects.select_related("village").in_bulk([int(number) for number in named])
    is_theirs = Booking.objects.visible_to(request.user).filter(pk__in=found).exists()
    if not is_theirs:
        return None, None
    return found.get(int(named[0])), found.get(int(named[1]))


def take(request: PageRequest, sheet: CheckSheet, *, from_booking: Booking | None = None) -> JsonResponse:
    """Store a sheet that a phone sent, have it judged, and answer what became of it."""
    key = as_key(request.POST.get("key", ""))
    if key is None:
        return JsonResponse({"state": "wrong", "errors": {"key": _("This sheet has no key of its own.")}}, status=422)
    now = timezone.now()
    sheet.keep_photos(by=request.user, at=now)
    made_at = _moment(request.POST.get("made_at", ""))
    signed = when_signed(
        made_at=made_at,
        sent_at=_moment(request.POST.get("sent_at", "")),
        received_at=now,
        not_before=sheet.booking.asked_at,
    )
    try:
        sent = arriving.keep_and_judge(
            key=key,
            booking=sheet.booking,
            kind=CheckKind(sheet.kind),
            from_booking=from_booking,
            fields=fields_of(request),
            read=read(sheet, request.POST),
            signed=signed,
            is_made_away=made_at is not None,
            by=request.user,
            at=now,
        )
    except KeyOfAnother as refusal:
        return JsonResponse({"state": "changed", "words": str(refusal)}, status=422)
    answer: dict[str, Any] = sent.answer or {}
    # One database gives the keys back in another order than they were written in.
    return JsonResponse(answer["said"], status=answer["status"], json_dumps_params={"sort_keys": True})


def fields_of(request: PageRequest) -> dict[str, str]:
    """What came, as any database can keep it."""
    return {_plain(name): _plain(str(value)) for name, value in request.POST.items() if name != NEVER_STORED}


def read(sheet: CheckSheet, data: Mapping[str, Any]) -> SheetRead:
    """The sheet as its forms read it, against the list of parts as it is now."""
    in_spite = data.get("in_spite") == "1"
    is_stop = sheet.may_stop and data.get("deed") == "stop"
    asked = {line.part.pk for line in sheet.lines if line.was_asked}
    gone = _gone(data, {line.part.pk for line in sheet.lines})
    is_made_away = _moment(data.get("made_at", "")) is not None
    errors = _errors(sheet, asked, unseen_may_be=is_stop or (in_spite and is_made_away))
    lines = [
        {
            "part": line.part.pk,
            "count": line.count,
            "condition": line.condition.value,
            "spare": line.spare_fitted,
            "note": line.note,
        }
        for line in sheet.seen()
    ]
    list_changed = data.get("list_version", sheet.list_version) != sheet.list_version
    new = [line.part.name for line in sheet.lines if line.part.pk not in asked]
    return SheetRead(
        lines=lines,
        signature=_signature(sheet),
        errors=errors,
        is_stop=is_stop,
        in_spite=in_spite,
        list_changed=list_changed or bool(new or gone),
        said_of_list=[*_said_of_gone(gone, data), *_said_of_new(new), *_said_of_counts(sheet, list_changed)],
        photo_keys=_photo_keys(sheet, data),
    )


def _errors(sheet: CheckSheet, asked: set[int], *, unseen_may_be: bool) -> dict[str, str]:
    """By the field. A part that was not on the phone's list is no error of whoever looked."""
    found = {}
    for line in sheet.lines:
        for name, errors in line.errors.items():
            is_excused = name == "photo" or (name == "seen" and (unseen_may_be or line.part.pk not in asked))
            if not is_excused:
                found[line.add_prefix(name)] = " ".join(map(str, errors))
    for name, errors in sheet.signature_form.errors.items():
        found["" if name == "__all__" else name] = " ".join(map(str, errors))
    return found


def _signature(sheet: CheckSheet) -> dict[str, Any]:
    form = sheet.signature_form
    if form.errors:
        return {}
    said = form.signature()
    return {
        "name": said.name,
        "role": said.role.value,
        "note": said.note,
        "taken_name": said.taken_name,
        "is_clean": said.is_clean,
    }


def _gone(data: Mapping[str, Any], listed: set[int]) -> list[Part]:
    """Parts of which the sheet speaks and that are on the list no more."""
    keys = set()
    for name in data:
        part, _dash, rest = name.partition("-")
        if rest in {"seen", "condition"} and part[:1] == "p" and part[1:].isascii() and part[1:].isdigit():
            keys.add(int(part[1:][:18]))
    return list(Part.objects.filter(pk__in=keys - listed).order_by("pk"))


def _said_of_gone(gone: list[Part], data: Mapping[str, Any]) -> list[str]:
    sentence = _("%(part)s is not on the list any more. What you said of it is kept with your sheet.")
    spoken = [part for part in gone if data.get(f"p{part.pk}-seen") or data.get(f"p{part.pk}-condition")]
    return [sentence % {"part": part.name} for part in spoken]


def _said_of_new(new: list[str]) -> list[str]:
    sentence = _("%(part)s is new on the list. You could not see that, so it stands as not looked at.")
    return [sentence % {"part": name} for name in new]


def _said_of_counts(sheet: CheckSheet, list_changed: bool) -> list[str]:
    """Where another number belongs there than the phone showed: "all here" then means the number of now."""
    if not list_changed:
        return []
    sentence = _("%(part)s: %(now)d belong there now; your list said %(then)s.")
    return [
        sentence % {"part": line.part.name, "now": line.usual_count, "then": line.count_now}
        for line in sheet.lines
        if line.chosen == "all" and line.count_now.isdecimal() and line.count_now != str(line.usual_count)
    ]


def _photo_keys(sheet: CheckSheet, data: Mapping[str, Any]) -> dict[str, str]:
    """The photos that a sheet names, those too that are still on the phone."""
    named = {}
    for line in sheet.lines:
        key = line.kept_photo.key if line.kept_photo else as_key(str(data.get(line.add_prefix("photo_key"), "")))
        if key is not None and not data.get(line.add_prefix("drop_photo")):
            named[str(line.part.pk)] = str(key)
    return named


def as_key(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _moment(text: str) -> datetime | None:
    """A moment as a phone writes it; None where it cannot be read."""
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    if moment is None:
        return None
    try:
        return moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
    except OverflowError:
        return None


def _plain(text: str) -> str:
    return text.replace("\x00", "\N{REPLACEMENT CHARACTER}").encode("utf-8", "replace").decode()
