"""Photos that no check was signed with go, after a while; every other stays."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile

from kitshare.bookings.models import Booking
from kitshare.checks import sweeping
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, Photo, SignedRole
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.logbook.models import Entry

pytestmark = pytest.mark.django_db


@pytest.fixture
def take(agreed_booking, sunniva, now, settings, tmp_path):
    """A photo kept for a booking: `take("1")`."""
    settings.MEDIA_ROOT = tmp_path

    def take(digest: str) -> Photo:
        photo = Photo(booking=agreed_booking, digest=digest, taken_by=sunniva, taken_at=now)
        photo.image.save(f"{photo.key}.jpg", ContentFile(b"a picture"), save=False)
        photo.save()
        return photo

    return take


def test_an_unsigned_photo_is_swept_with_its_file_once_no_sheet_can_be_open(
    take, agreed_booking, drive_pin, perpetua, now
):
    loose, signed = take("1"), take("2")
    check = HandoverCheck.objects.create(
        booking=agreed_booking,
        kind=CheckKind.PICKUP,
        outcome=Outcome.HANDED_OVER,
        by=perpetua,
        signed_name="Sunniva",
        signed_role=SignedRole.BORROWER,
        done_at=now,
        digest="0" * 64,
    )
    CheckLine.objects.create(check_of=check, part=drive_pin, expected_count=1, count=1, condition="sound", photo=signed)
    files = [loose.image.path, signed.image.path]
    later = now + timedelta(days=15)

    while_agreed = sweeping.sweep_photos(at=later)
    Booking.objects.filter(pk=agreed_booking.pk).update(stage="closed")
    too_soon = sweeping.sweep_photos(at=now + timedelta(days=13))
    swept, again = sweeping.sweep_photos(at=later), sweeping.sweep_photos(at=later)

    assert (while_agreed, too_soon, swept, again) == (0, 0, 1, 0)
    assert list(Photo.objects.all()) == [signed]
    storage = signed.image.storage
    assert [storage.exists(file) for file in files] == [False, True]
    line = Entry.objects.about(agreed_booking).get(deed="photos_swept")
    assert line.text.startswith("Swept 1 photo of Sorrelhythe")
    assert line.by_name == "Kitshare"


def test_a_round_that_died_half_way_is_finished_by_the_next(take, agreed_booking, now):
    photo = take("1")
    Booking.objects.filter(pk=agreed_booking.pk).update(stage="closed")
    photo.image.storage.delete(photo.image.name)

    assert sweeping.sweep_photos(at=now + timedelta(days=15)) == 1
    assert not Photo.objects.exists()


def test_a_photo_of_a_sheet_that_is_kept_stays_with_it(take, agreed_booking, sunniva, now):
    photo = take("1")
    sheet = SentSheet.objects.create(
        key=uuid.uuid4(),
        booking=agreed_booking,
        kind="pickup",
        by=sunniva,
        made_at=now,
        received_at=now,
        is_made_away=True,
        body={},
        state=SheetState.KEPT,
    )
    sheet.photos.add(photo)
    Booking.objects.filter(pk=agreed_booking.pk).update(stage="called_off")

    assert sweeping.sweep_photos(at=now + timedelta(days=15)) == 0
    assert photo.image.storage.exists(photo.image.name)
