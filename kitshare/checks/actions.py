"""What is done with checks: photos kept, a kit handed over, a pickup stopped, a kit taken back."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError
from django.utils.translation import gettext as _

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.checks.coming import Came, weigh, weigh_stop
from kitshare.checks.gates import NotTheirs, check_pickup_is_due, check_return_can_start, what_stops_a_pickup
from kitshare.checks.lines import PartSeen, pickup_list, return_list
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome, Photo
from kitshare.checks.photos import MOST_OF_A_BOOKING, PhotoKeyTaken, PhotoNotStored, PhotoNotWanted, PhotosEnough
from kitshare.checks.recording import Sheet, Signature
from kitshare.checks.sent_models import SentSheet
from kitshare.checks.telling import tell_of_stop
from kitshare.engine import deed
from kitshare.kits.pictures import PhotoTooHeavy, digest_of, let_go, tidied
from kitshare.people.models import Member


def keep_photo(
    *, booking: Booking, upload: "UploadedFile[bytes]", by: Member, at: datetime, key: uuid.UUID | None = None
) -> Photo:
    """Keep a picture for a check of this booking: small, upright, without position. The same again is the same photo.

    A phone gives it a key of its own, and may send it after the sheet that names it, however late.
    The picture is read and re-encoded before anything is written. Raises PhotoRefused, or NotTheirs.
    """
    is_named = bool(key is not None and SentSheet.objects.naming(key, booking=booking, by=by))
    is_theirs = is_named or Booking.objects.visible_to(by).filter(pk=booking.pk).exists()
    if not is_theirs and not Relay.objects.pending().of(booking).visible_to(by).exists():
        raise NotTheirs
    if (upload.size or 0) > settings.PHOTO_MAX_BYTES:
        raise PhotoTooHeavy(settings.PHOTO_MAX_BYTES)
    digest = digest_of(upload)
    if earlier := _kept_before(booking, digest, key, by):
        return earlier
    if booking.stage not in {Stage.AGREED, Stage.OUT} and not is_named:
        raise PhotoNotWanted
    if Photo.objects.filter(booking=booking).count() >= MOST_OF_A_BOOKING:
        raise PhotosEnough(MOST_OF_A_BOOKING)
    upload.seek(0)
    picture = ContentFile(tidied(upload))
    photo = Photo(key=key or uuid.uuid4(), booking=booking, digest=digest, taken_by=by, taken_at=at)
    try:
        photo.image.save(f"{photo.key}.jpg", picture, save=False)
    except OSError as error:
        raise PhotoNotStored from error
    try:
        _add_photo(photo=photo)
    except IntegrityError:  # the same picture came twice at once
        earlier = _kept_before(booking, digest, key, by)
        if earlier is None or earlier.image.name != photo.image.name:
            let_go(photo.image.storage, str(photo.image.name))
        if earlier is None:
            raise
        return earlier
    return photo


def _kept_before(booking: Booking, digest: str, key: uuid.UUID | None, by: Member) -> Photo | None:
    """This very picture, if it came before. Raises PhotoKeyTaken where another came under its key."""
    under_key = Photo.objects.filter(key=key).first() if key else None
    if under_key is not None:
        if (under_key.booking_id, under_key.digest, under_key.taken_by_id) != (booking.pk, digest, by.pk):
            raise PhotoKeyTaken
        return under_key
    return Photo.objects.filter(booking=booking, digest=digest).first()


@deed
def _add_photo(*, photo: Photo) -> None:
    photo.save(force_insert=True)


@deed
def complete_pickup_check(
    *,
    booking: Booking,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    today: date,
    came: Came | None = None,
) -> HandoverCheck:
    """Hand the kit over: every part seen, nothing vital wrong. Faults, spares and booking go with it, or nothing does.

    The same sheet sent again gets the check that it made at first. Raises PickupStopped for a vital or a guard part,
    another HandoverRefused or a BookingRefused for everything else that is in the way.
    """
    sheet = Sheet(
        booking=booking,
        kind=CheckKind.PICKUP,
        outcome=Outcome.HANDED_OVER,
        signature=signature,
        seen=seen,
        by=by,
        at=at,
        came=came,
    )
    if recorded := sheet.recorded_before():
        return recorded
    check_pickup_is_due(booking=booking, by=by, today=today)
    stopping = what_stops_a_pickup(booking=booking, today=today)
    weighed = weigh(pickup_list(booking), seen, came=came, refusals=stopping)
    check = sheet.record(weighed)
    text = _("%(name)s signed the %(occasion)s.") % {"name": check.signed_name, "occasion": sheet.occasion()}
    sheet.write(check, deed="pickup_checked", text=text, pairs=weighed.pairs)
    bookings.mark_out(booking=booking, by=by, at=sheet.now, today=today, in_spite=check.went_in_spite)
    return check


@deed
def stop_pickup(
    *,
    booking: Booking,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    today: date,
    came: Came | None = None,
) -> HandoverCheck:
    """Keep the kit at the depot because a vital or a guard part is wrong: report it, and tell the coordinators at once.

    Parts that nobody looked at may be left out.
    Raises NothingStops where no such part is wrong, and HandoverRefused.
    """
    sheet = Sheet(
        booking=booking,
        kind=CheckKind.PICKUP,
        outcome=Outcome.STOPPED,
        signature=signature,
        seen=seen,
        by=by,
        at=at,
        came=came,
    )
    if recorded := sheet.recorded_before():
        return recorded
    check_pickup_is_due(booking=booking, by=by, today=today)
    refusals = what_stops_a_pickup(booking=booking, today=today)
    weighed, stopping = weigh_stop(pickup_list(booking), seen, came=came, refusals=refusals)
    check = sheet.record(weighed)
    reasons = " ".join(stop.message for stop in stopping)
    words = {"name": check.signed_name, "occasion": sheet.occasion(), "reasons": reasons}
    text = _("%(name)s stopped the %(occasion)s. %(reasons)s") % words
    sheet.write(check, deed="pickup_stopped", text=text, pairs=weighed.pairs)
    tell_of_stop(check, stopping)
    return check


@deed
def complete_return_check(
    *,
    booking: Booking,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    today: date,
    came: Came | None = None,
) -> HandoverCheck:
    """Take the kit back: every part seen. What is missing, damaged or fewer becomes a fault in the same stroke.

    The same sheet sent again gets the check that it made at first. Raises HandoverRefused.
    """
    sheet = Sheet(
        booking=booking,
        kind=CheckKind.RETURN,
        outcome=Outcome.HANDED_OVER,
        signature=signature,
        seen=seen,
        by=by,
        at=at,
        came=came,
    )
    if recorded := sheet.recorded_before():
        return recorded
    check_return_can_start(booking=booking, by=by)
    weighed = weigh(return_list(booking), seen, came=came, is_going_out=False)
    check = sheet.record(weighed)
    text = _("%(name)s signed the %(occasion)s.") % {"name": check.signed_name, "occasion": sheet.occasion()}
    sheet.write(check, deed="return_checked", text=text, pairs=weighed.pairs)
    bookings.mark_back(booking=booking, by=by, at=sheet.now, today=today)
    return check
