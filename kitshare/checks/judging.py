"""What becomes of a sheet that came from a phone. Called with the machines locked, in the deed that writes it down."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.relay_models import Relay
from kitshare.checks import actions as checks
from kitshare.checks import merging, relaying
from kitshare.checks.coming import Came, NothingStops, moment_in_words
from kitshare.checks.gates import HandoverRefused, StillOut, WrongStage
from kitshare.checks.lines import PartSeen, PartWrong, PickupStopped, handed_over
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome, Photo, SignedRole
from kitshare.checks.recording import ChangedSinceSent, NotSigned, Signature, TwoMustSign
from kitshare.checks.relaying import RelayUndone
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.checks.telling import tell_kept, write_kept
from kitshare.kits.models import Part
from kitshare.rules.checklists import Condition

OK: Final = 200
TO_MEND: Final = 422

# What is wrong with the sheet itself, and can be put right on the phone.
OF_THE_SHEET: Final = (PickupStopped, PartWrong, NotSigned, TwoMustSign, NothingStops)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of a sheet, and what its phone is told."""

    state: SheetState
    status: int
    said: dict[str, Any]
    check: HandoverCheck | None = None
    differences: list[dict[str, Any]] = field(default_factory=list)
    matters: bool = False
    waits: bool = False


def verdict_on(sheet: SentSheet, at: datetime) -> Verdict:
    """Record it, put it beside the check that was there first, keep it, or send it back to be mended."""
    if sheet.body["errors"]:
        return _to_mend({"errors": sheet.body["errors"]})
    first = _there_first(sheet)
    if first is not None and first.key != sheet.key:
        return _merged(sheet, first, at)
    try:
        with transaction.atomic():
            check = _record(sheet, at)
    except ChangedSinceSent as refusal:
        return Verdict(state=SheetState.WRONG, status=TO_MEND, said={"state": "changed", "words": str(refusal)})
    except OF_THE_SHEET as refusal:
        return _to_mend(_wrong_in(refusal))
    except (HandoverRefused, BookingRefused) as refusal:
        if not sheet.is_made_away:
            return _to_mend({"errors": {"": str(refusal)}})
        return _kept(sheet, refusal, at)
    return _recorded(sheet, check, at)


def seen_on(sheet: SentSheet) -> list[PartSeen]:
    """Its lines, with their parts and with the photos that have come."""
    parts = Part.objects.in_bulk([line["part"] for line in sheet.body["lines"]])
    photos = {str(photo.key): photo for photo in Photo.objects.filter(booking_id=sheet.booking_id)}
    keys = sheet.body["photo_keys"]
    return [
        PartSeen(
            part=parts[line["part"]],
            count=line["count"],
            condition=Condition(line["condition"]),
            spare_fitted=line["spare"],
            note=line["note"],
            photo=photos.get(keys.get(str(line["part"]), "")),
        )
        for line in sheet.body["lines"]
        if line["part"] in parts
    ]


def signature_on(sheet: SentSheet) -> Signature:
    said = sheet.body["signature"]
    return Signature(
        key=uuid.UUID(str(sheet.key)),
        name=said["name"],
        role=SignedRole(said["role"]),
        note=said["note"],
        taken_name=said["taken_name"],
        is_clean=said["is_clean"],
    )


def _there_first(sheet: SentSheet) -> HandoverCheck | None:
    """The check that was made already at this end of the booking."""
    if sheet.kind != CheckKind.RELAY:
        return handed_over(sheet.booking, CheckKind(sheet.kind))
    done = HandoverCheck.objects.filter(booking=sheet.booking, kind=CheckKind.RELAY, outcome=Outcome.HANDED_OVER)
    return done.filter(from_booking=sheet.from_booking_id).first()


def _record(sheet: SentSheet, at: datetime) -> HandoverCheck:
    said = sheet.body
    come = Came(
        written_at=at,
        past_gates=sheet.is_made_away,
        # A part that became vital meanwhile stops nothing that is done: nobody could know it.
        past_stops=sheet.is_made_away and (said["in_spite"] or sheet.list_changed),
        unseen_may_be=sheet.is_made_away,
    )
    facts: dict[str, Any] = {
        "seen": seen_on(sheet),
        "signature": signature_on(sheet),
        "by": sheet.by,
        "at": sheet.made_at,
        "today": signed_on(sheet),
        "came": come,
    }
    if sheet.kind == CheckKind.RELAY:
        relay = Relay.objects.with_bookings().filter(first=sheet.from_booking_id, second=sheet.booking_id).first()
        if relay is None:
            raise RelayUndone
        deed: Callable[..., HandoverCheck] = relaying.stop_relay if said["is_stop"] else relaying.complete_relay_check
        return deed(relay=relay, **facts)
    if sheet.kind == CheckKind.RETURN:
        return checks.complete_return_check(booking=sheet.booking, **facts)
    deed = checks.stop_pickup if said["is_stop"] else checks.complete_pickup_check
    return deed(booking=sheet.booking, **facts)


def signed_on(sheet: SentSheet) -> date:
    """The day on which it was signed, by the scheme's clock."""
    return timezone.localtime(sheet.made_at).date()


def _recorded(sheet: SentSheet, check: HandoverCheck, at: datetime) -> Verdict:
    received = _("Received at %(time)s.") % {"time": f"{timezone.localtime(at):%H:%M}"}
    said: dict[str, Any] = {
        "state": "received",
        "at": at.isoformat(),
        "words": received,
        "address": reverse("checks:show", args=[check.pk]),
    }
    if sheet.body["said_of_list"]:
        said["differences"] = sheet.body["said_of_list"]
    if check.outcome == Outcome.STOPPED:
        said["stopped"] = True
    if check.went_in_spite:
        said["in_spite"] = [check.in_spite]
        said["words"] = received + " " + _("Handed over in spite of a stop: the coordinators are told now.")
    return Verdict(state=SheetState.RECORDED, status=OK, said=said, check=check)


def _merged(sheet: SentSheet, first: HandoverCheck, at: datetime) -> Verdict:
    second = merging.merge(sheet, first, seen=seen_on(sheet), signature=signature_on(sheet), at=at)
    words = {"who": first.signed_name, "when": moment_in_words(first.done_at)}
    said = {
        "state": "kept",
        "words": _("The check of %(who)s, %(when)s, was here first. Yours is kept beside it, line by line.") % words,
        "differences": [*second.words, *sheet.body["said_of_list"]],
        "address": reverse("checks:show", args=[first.pk]),
    }
    return Verdict(
        state=SheetState.MERGED,
        status=OK,
        said=said,
        check=first,
        differences=second.rows,
        matters=second.matters,
    )


def _kept(sheet: SentSheet, refusal: Exception, at: datetime) -> Verdict:
    """Whoever waits for another sheet is told so; the coordinators only when that does not come, by a round."""
    waits = _waits(sheet, refusal)
    words = _("Your check is kept. It is recorded by itself as soon as the check before it has come. Now: %(why)s")
    if not waits:
        words = _("Your check is kept, and the coordinators are told. It could not be recorded: %(why)s")
    said = {
        "state": "kept",
        "words": words % {"why": refusal},
        "why": str(refusal),
        "differences": sheet.body["said_of_list"],
        "address": reverse("checks:sent", args=[sheet.pk]),
    }
    if sheet.state == SheetState.UNJUDGED:
        write_kept(sheet, str(refusal), at)
        if not waits:
            tell_kept(sheet, str(refusal), at)
    return Verdict(state=SheetState.KEPT, status=OK, said=said, waits=waits)


def _waits(sheet: SentSheet, refusal: Exception) -> bool:
    """Whether another sheet, still on somebody's phone, may clear the way."""
    if isinstance(refusal, StillOut):
        return True
    before = Booking.objects.get(pk=sheet.from_booking_id or sheet.booking_id)
    return isinstance(refusal, WrongStage) and sheet.kind != CheckKind.PICKUP and before.stage == Stage.AGREED


def _to_mend(wrong: dict[str, Any]) -> Verdict:
    return Verdict(state=SheetState.WRONG, status=TO_MEND, said={"state": "wrong", **wrong})


def _wrong_in(refusal: Exception) -> dict[str, Any]:
    if isinstance(refusal, PickupStopped):
        errors = {f"p{stop.part.pk}-condition": stop.message for stop in refusal.stops}
        return {"errors": errors, "stops": [stop.message for stop in refusal.stops]}
    if isinstance(refusal, PartWrong):
        return {"errors": {f"p{refusal.part.pk}-{refusal.field}": str(refusal)}}
    return {"errors": {"": str(refusal)}}
