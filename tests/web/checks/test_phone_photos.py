"""Photos one by one from a phone: each once by its key, none half, and words for whatever is refused."""

import uuid

import pytest
from django.urls import reverse

from kitshare.checks.models import HandoverCheck, Photo
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db

PHONE = {"X-Kitshare-Phone": "1"}


@pytest.fixture
def send_photo(signed_in, sunniva, agreed_booking):
    def send_photo(content=None, *, by=sunniva, booking=agreed_booking.pk, key=None, **more):
        content = picture() if content is None else content
        address = reverse("checks:keep_photo", args=[booking])
        sent = {"photo": upload(content), "key": str(key or uuid.uuid4())} | more
        return signed_in(by).post(address, sent, headers=PHONE)

    return send_photo


def test_a_photo_keeps_the_key_that_the_phone_gave_it_and_a_repeat_is_told_the_same(send_photo):
    key = uuid.uuid4()

    first, again = send_photo(key=key), send_photo(key=key)

    assert first.json() == {"key": str(key), "address": reverse("checks:photo", args=[key])}
    assert (again.status_code, again.content) == (200, first.content)
    assert Photo.objects.count() == 1


def test_another_photo_under_the_same_key_is_refused_for_good(send_photo):
    key = uuid.uuid4()
    send_photo(key=key)

    answer = send_photo(picture(size=(900, 700)), key=key)

    assert (answer.status_code, answer.json()["final"]) == (422, True)
    assert "That one stands" in answer.json()["error"]
    assert Photo.objects.count() == 1


@pytest.mark.parametrize(("says_size", "whole"), [(True, False), (False, False), (True, True)])
def test_a_photo_that_was_cut_off_is_sent_again_and_one_that_is_none_is_not(says_size, whole, send_photo, settings):
    sound = picture(size=(1600, 1200))
    sent = b"no picture at all" if whole else sound[: len(sound) // 2]
    size = {"size": str(len(sent) if whole else len(sound))} if says_size else {}

    answer = send_photo(sent, **size)

    assert (answer.status_code, answer.json()["final"]) == (422, whole)
    assert not Photo.objects.exists()
    assert not list(settings.MEDIA_ROOT.rglob("*.jpg"))


def test_a_request_whose_end_never_came_keeps_nothing(signed_in, sunniva, agreed_booking):
    head = (
        b'--x\r\nContent-Disposition: form-data; name="photo"; filename="pin.jpg"\r\nContent-Type: image/jpeg\r\n\r\n'
    )
    body = head + picture(size=(1600, 1200))[:4000]

    answer = signed_in(sunniva).post(
        reverse("checks:keep_photo", args=[agreed_booking.pk]),
        body,
        content_type="multipart/form-data; boundary=x",
        headers=PHONE,
    )

    assert (answer.status_code, answer.json()["final"]) == (422, False)
    assert not Photo.objects.exists()


def test_too_much_at_once_is_said_as_data_too(signed_in, sunniva, agreed_booking, settings):
    settings.REQUEST_MAX_BYTES = 1000
    address = reverse("checks:keep_photo", args=[agreed_booking.pk])

    answer = signed_in(sunniva).post(address, {"photo": upload(picture())}, headers=PHONE)

    assert (answer.status_code, answer.json()["final"]) == (413, True)


def test_a_photo_for_another_village_is_refused_like_one_for_nobody(send_photo, leilani, sunniva):
    answers = [send_photo(by=leilani), send_photo(booking=999_999, by=leilani)]

    assert [answer.status_code for answer in answers] == [403, 403]
    assert answers[0].json() == answers[1].json()
    assert not Photo.objects.exists()


def test_a_sheet_may_come_before_the_photos_that_it_names(
    send_photo, signed_in, sunniva, pickup_address, filled, lead, now
):
    key = uuid.uuid4()
    named = {f"p{lead.pk}-photo_key": str(key), "made_at": now.isoformat(), "sent_at": now.isoformat()}
    signed_in(sunniva).post(pickup_address, filled(**named), headers=PHONE)
    line = HandoverCheck.objects.get().lines.get(part=lead)
    assert line.photo is None

    send_photo(key=key)

    line.refresh_from_db()
    assert str(line.photo.key) == str(key)
