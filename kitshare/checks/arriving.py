"""Sheets that come from phones: stored first, each once by its key, and only then judged.

Between the two a process may die: the phone sends again, or a round finds the sheet, and it is judged then.
"""

import hashlib
import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.bookings import days
from kitshare.bookings.models import Booking
from kitshare.checks import actions as checks
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.judging import Verdict, verdict_on
from kitshare.checks.models import CheckKind, CheckLine, Photo
from kitshare.checks.phone_clock import Signed
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.engine import deed
from kitshare.people.models import Member

# Differ from one sending to the next of the very same sheet.
OF_THE_SENDING: Final = frozenset({"csrfmiddlewaretoken", "sent_at", "made_at"})
# The first try, with the person still there, leaves it out; those that follow name it.
NO_ANSWER: Final = OF_THE_SENDING | {"made_at"}
MOST_EARLIER: Final = 20


class KeyOfAnother(HandoverRefused):
    """The key is that of another sheet: changed since, of another booking, or of somebody else."""

    def __init__(self) -> None:
        super().__init__(_("This sheet came before, with other answers or from somebody else. What came first stands."))


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRead:
    """What a sheet says, as the form read it when it came.

    `lines` and `signature` are as `judging` takes them; `errors` by the field; `said_of_list` what changed on the list.
    """

    lines: list[dict[str, Any]]
    signature: dict[str, Any]
    errors: dict[str, str]
    is_stop: bool
    in_spite: bool
    list_changed: bool
    said_of_list: list[str]
    photo_keys: dict[str, str]  # by the part's key: photos that it names, come or still to come


def digest_of(fields: Mapping[str, str]) -> str:
    """The same for the same sheet, however often it is sent. Which photo has come by then is no part of it."""
    said = {name: value for name, value in fields.items() if name not in NO_ANSWER}
    said = {name: value for name, value in said.items() if not name.endswith("-photo_key")}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


@deed
def keep_sheet(
    *,
    key: uuid.UUID,
    booking: Booking,
    kind: CheckKind,
    from_booking: Booking | None,
    fields: dict[str, str],
    read: SheetRead,
    signed: Signed,
    is_made_away: bool,
    by: Member,
    at: datetime,
) -> SentSheet:
    """Store a sheet as it came; the same again is the same. Raises KeyOfAnother.

    One that was sent back, and under which nothing was recorded, may come again mended; or unchanged as one that was
    signed away from here: then nobody was there to hear what the site said, and it is judged as what has happened.
    """
    digest = digest_of(fields)
    sheet = SentSheet(key=key, booking=booking, kind=kind, from_booking=from_booking, by=by)
    _write_on(sheet, fields, read, digest)
    _sign(sheet, signed, at, is_made_away=is_made_away)
    try:
        with transaction.atomic():
            sheet.save(force_insert=True)
    except IntegrityError:
        sheet = SentSheet.objects.select_for_update().get(key=key)
        if (sheet.booking_id, sheet.kind, sheet.by_id) != (booking.pk, kind, by.pk):
            raise KeyOfAnother from None
        if sheet.digest != digest:
            if sheet.state != SheetState.WRONG:
                raise KeyOfAnother from None
            _mend(sheet, fields, read, digest)
        if is_made_away and not sheet.is_made_away and sheet.state in {SheetState.UNJUDGED, SheetState.WRONG}:
            # Nobody heard the first answer: whoever signed has gone, and the gates cannot undo it any more.
            sheet.made_at, sheet.clock_ahead, sheet.is_made_away = signed.at, signed.clock_ahead, True
            sheet.body["errors"] = read.errors
            sheet.state, sheet.answer = SheetState.UNJUDGED, None
        sheet.body["photo_keys"] |= read.photo_keys
        sheet.save()
    join_photos(sheet)
    return sheet


@deed
def judge_sheet(*, sheet: SentSheet, at: datetime, again: bool = False) -> SentSheet:
    """Decide what becomes of a sheet, once: recorded, merged, kept, or sent back to be mended.

    `again`: look once more at one that was kept, because what was in its way may be gone. What the phone was told
    stays as it was.
    """
    days.lock_machines(sheet.booking.machines.values_list("pk", flat=True))
    sheet = SentSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    is_kept = sheet.state == SheetState.KEPT and sheet.dealt_at is None
    if sheet.state != SheetState.UNJUDGED and not (again and is_kept):
        return sheet
    verdict = verdict_on(sheet, at)
    if is_kept and verdict.state in {SheetState.KEPT, SheetState.WRONG}:
        return sheet
    _settle(sheet, verdict)
    return sheet


def keep_and_judge(*, at: datetime, **sent: Any) -> SentSheet:
    """Store the sheet, then judge it, in a transaction each."""
    sheet = keep_sheet(at=at, **sent)
    return judge_sheet(sheet=sheet, at=at)


def join_photos(sheet: SentSheet) -> None:
    """Give the sheet, and the lines of the check that it became, the photos that it names and that have come."""
    named = sheet.body["photo_keys"]  # one photo may show several parts
    come = list(Photo.objects.filter(booking_id=sheet.booking_id, key__in=set(named.values()))) if named else []
    sheet.photos.add(*come)
    if sheet.state != SheetState.RECORDED or sheet.recorded_as_id is None:
        return
    for photo in come:
        parts = [int(part) for part, key in named.items() if key == str(photo.key)]
        CheckLine.objects.filter(check_of=sheet.recorded_as_id, part__in=parts, photo=None).update(photo=photo)


def keep_phones_photo(
    *, booking: Booking, upload: "UploadedFile[bytes]", key: uuid.UUID, by: Member, at: datetime
) -> Photo:
    """Keep a photo under the key that the phone gave it, and join it to the sheets that name it."""
    photo = checks.keep_photo(booking=booking, upload=upload, by=by, at=at, key=key)
    for sheet in SentSheet.objects.naming(key, booking=booking, by=by):
        _join(sheet=sheet, key=key, photo=photo)
    return photo


@deed
def _join(*, sheet: SentSheet, key: uuid.UUID, photo: Photo) -> None:
    """The same picture may have been kept under another key: then the sheet names that one from now on."""
    sheet = SentSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    named = {part: str(photo.key) if one == str(key) else one for part, one in sheet.body["photo_keys"].items()}
    sheet.body["photo_keys"] = named
    sheet.save()
    join_photos(sheet)


def _write_on(sheet: SentSheet, fields: dict[str, str], read: SheetRead, digest: str) -> None:
    sheet.list_changed, sheet.digest = read.list_changed, digest
    sheet.body = {
        "fields": {name: value for name, value in fields.items() if name not in OF_THE_SENDING},
        "lines": read.lines,
        "signature": read.signature,
        "errors": read.errors,
        "is_stop": read.is_stop,
        "in_spite": read.in_spite,
        "said_of_list": read.said_of_list,
        "photo_keys": read.photo_keys,
    }


def _sign(sheet: SentSheet, signed: Signed, at: datetime, *, is_made_away: bool) -> None:
    sheet.made_at, sheet.clock_ahead, sheet.is_made_away = signed.at, signed.clock_ahead, is_made_away
    sheet.received_at = at


def _mend(sheet: SentSheet, fields: dict[str, str], read: SheetRead, digest: str) -> None:
    """Put the mended sheet in place of the one that was sent back, which stays beneath it."""
    before = [*sheet.body.get("earlier", []), sheet.body["fields"]][-MOST_EARLIER:]
    _write_on(sheet, fields, read, digest)
    sheet.body["earlier"] = before
    sheet.state, sheet.answer = SheetState.UNJUDGED, None


def _settle(sheet: SentSheet, verdict: Verdict) -> None:
    sheet.state, sheet.recorded_as = verdict.state, verdict.check
    sheet.differences, sheet.matters, sheet.waits = verdict.differences, verdict.matters, verdict.waits
    if sheet.answer is None:
        sheet.answer = {"status": verdict.status, "said": verdict.said}
    sheet.save()
    join_photos(sheet)
