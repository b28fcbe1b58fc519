"""Photos on the sheet: kept whatever else is wrong, refused in words, shown to those who may see the booking."""

import pytest
from django.urls import reverse

from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck, Photo
from tests.checks.sheets import HEIC_HEAD, SCRIPTED, bomb, picture, upload

pytestmark = pytest.mark.django_db

REFUSED = {
    "a text called .jpg": (lambda: upload(b"no photo"), "could not be read as a photo"),
    "an empty file": (lambda: upload(b""), "could not be read as a photo"),
    "thirty megabytes": (lambda: upload(b"\xff" * 30_000_000), "up to 15 MB"),
    "a decompression bomb": (lambda: upload(bomb(16_000, 16_000), "pin.png", "image/png"), "40 megapixels"),
    "half a photo": (lambda: upload(picture()[:4000]), "could not be read as a photo"),
    "a GIF": (lambda: upload(picture(kind="GIF"), "pin.gif", "image/gif"), "could not be read as a photo"),
    "a drawing with script": (lambda: upload(SCRIPTED, "pin.svg", "image/svg+xml"), "could not be read as a photo"),
    "a phone's own format": (lambda: upload(HEIC_HEAD, "pin.heic", "image/heic"), "JPEG, PNG or WebP"),
}


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def keep_address(agreed_booking):
    return reverse("checks:keep_photo", args=[agreed_booking.pk])


@pytest.fixture
def kept(signed_in, sunniva, keep_address) -> Photo:
    signed_in(sunniva).post(keep_address, {"photo": upload(picture())})
    return Photo.objects.get()


@pytest.mark.parametrize(("sent", "said"), REFUSED.values(), ids=REFUSED.keys())
def test_what_is_no_photo_is_refused_by_its_part_and_the_rest_stays_typed(sent, said, picked_up, lead, agreed_booking):
    answer = picked_up(**{f"p{lead.pk}-photo": sent(), f"p{lead.pk}-note": "see the photo"})

    page = words(answer)
    assert answer.status_code == 200
    assert "Mill lead: This" in page
    assert said in page
    assert 'value="see the photo"' in page
    assert not Photo.objects.exists()
    agreed_booking.refresh_from_db()
    assert agreed_booking.stage == Stage.AGREED


@pytest.mark.parametrize(("sent", "said"), REFUSED.values(), ids=REFUSED.keys())
def test_the_same_is_refused_where_photos_are_kept_as_they_are_taken(sent, said, signed_in, sunniva, keep_address):
    answer = signed_in(sunniva).post(keep_address, {"photo": sent()})

    assert answer.status_code == 422
    assert said in answer.json()["error"]
    assert not Photo.objects.exists()


def test_a_good_photo_outlives_a_refused_sheet_and_goes_along_with_the_next(picked_up, lead, client):
    refused = picked_up(signed_name="", **{f"p{lead.pk}-photo": upload(picture())})

    photo = Photo.objects.get()
    page = words(refused)
    assert f'name="p{lead.pk}-photo_key" value="{photo.key}"' in page
    assert reverse("checks:photo", args=[photo.key]) in page

    picked_up(**{f"p{lead.pk}-photo_key": str(photo.key)})
    assert HandoverCheck.objects.get().lines.get(part=lead).photo == photo


def test_a_kept_photo_can_be_left_out_again(picked_up, lead, kept):
    picked_up(**{f"p{lead.pk}-photo_key": str(kept.key), f"p{lead.pk}-drop_photo": "on"})

    assert HandoverCheck.objects.get().lines.get(part=lead).photo is None


@pytest.mark.parametrize("key", ["", "nonsense", "00000000-0000-4000-8000-000000000000"])
def test_a_key_of_no_photo_is_passed_over(key, picked_up, lead):
    picked_up(**{f"p{lead.pk}-photo_key": key})

    assert HandoverCheck.objects.get().lines.get(part=lead).photo is None


def test_a_photo_of_another_booking_cannot_be_borrowed(picked_up, lead, kept, agreed_booking):
    agreed_booking.pk, agreed_booking.uid = None, "00000000-0000-4000-8000-000000000001"
    agreed_booking.save(force_insert=True)
    Photo.objects.update(booking=agreed_booking)

    picked_up(**{f"p{lead.pk}-photo_key": str(kept.key)})

    assert HandoverCheck.objects.get().lines.get(part=lead).photo is None


@pytest.mark.parametrize(("who", "status"), [("sunniva", 200), ("perpetua", 200), ("teodor", 200), ("leilani", 404)])
def test_a_photo_shows_only_to_those_who_may_see_its_booking(who, status, request, signed_in, kept):
    answer = signed_in(request.getfixturevalue(who)).get(reverse("checks:photo", args=[kept.key]))

    assert answer.status_code == status
    if status == 200:
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Cache-Control"].startswith("private")
        assert b"".join(answer.streaming_content)[:3] == b"\xff\xd8\xff"


def test_a_stranger_sees_no_photo(client, kept):
    client.logout()

    assert client.get(reverse("checks:photo", args=[kept.key])).status_code == 302


def test_a_photo_whose_file_is_gone_is_not_found(signed_in, sunniva, kept):
    kept.image.storage.delete(kept.image.name)

    assert signed_in(sunniva).get(reverse("checks:photo", args=[kept.key])).status_code == 404


def test_no_file_at_all_is_said(signed_in, sunniva, keep_address):
    answer = signed_in(sunniva).post(keep_address)

    assert (answer.status_code, answer.json()) == (422, {"error": "No photo came along.", "final": False})


def test_photos_are_kept_by_posting_only(signed_in, sunniva, keep_address):
    assert signed_in(sunniva).get(keep_address).status_code == 405
