"""A part's picture on its pages and at checks: who may give one, who sees it, and what a phone may keep."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.kits import part_pictures
from tests.checks.sheets import picture, upload


@pytest.fixture
def pictured(drive_pin, teodor, now):
    part_pictures.give_picture(part=drive_pin, upload=upload(picture()), by=teodor, at=now)
    drive_pin.refresh_from_db()
    return drive_pin


def shown(part) -> str:
    return reverse("kits:picture", args=[part.picture_key])


def test_a_volunteer_gives_a_picture_and_every_member_sees_it_for_a_year(signed_in, teodor, leilani, drive_pin):
    page = reverse("kits:part_picture", args=[drive_pin.pk])
    answer = signed_in(teodor).post(page, {"picture": upload(picture())}, follow=True)

    drive_pin.refresh_from_db()
    assert shown(drive_pin) in answer.content.decode()
    there = signed_in(leilani).get(shown(drive_pin))
    assert (there.status_code, there["Content-Type"]) == (200, "image/jpeg")
    assert there["Cache-Control"] == "private, max-age=31536000, immutable"
    assert b"".join(there.streaming_content)[:3] == b"\xff\xd8\xff"


def test_a_stranger_sees_no_picture_and_a_borrower_gives_none(client, signed_in, leilani, pictured):
    assert client.get(shown(pictured)).status_code == 302
    for name in ("part_picture", "part_picture_away"):
        answer = signed_in(leilani).post(reverse(f"kits:{name}", args=[pictured.pk]), {"picture": upload(picture())})
        assert answer.status_code == 403


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({}, "Choose a picture first."),
        ({"picture": upload(b"")}, "could not be read as a photo"),
        ({"picture": upload(b"no picture")}, "could not be read as a photo"),
    ],
    ids=["nothing", "an empty file", "a text"],
)
def test_what_is_no_picture_is_refused_beside_the_field(signed_in, teodor, pictured, files, words):
    before = pictured.picture.name

    answer = signed_in(teodor).post(reverse("kits:part_picture", args=[pictured.pk]), files)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    pictured.refresh_from_db()
    assert pictured.picture.name == before


def test_a_picture_is_taken_away(signed_in, teodor, pictured):
    address = shown(pictured)

    answer = signed_in(teodor).post(reverse("kits:part_picture_away", args=[pictured.pk]), follow=True)

    assert "without a picture now" in answer.content.decode()
    assert signed_in(teodor).get(address).status_code == 404


def test_a_file_that_is_gone_is_not_found_and_no_breakage(signed_in, teodor, pictured):
    pictured.picture.storage.delete(pictured.picture.name)

    assert signed_in(teodor).get(shown(pictured)).status_code == 404
    assert signed_in(teodor).get(reverse("kits:picture", args=[uuid.uuid4()])).status_code == 404


def test_at_a_check_the_picture_is_one_tap_away_and_costs_no_query(
    signed_in, sunniva, teodor, agreed_booking, drive_pin, guard, now, monkeypatch
):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
    client, address = signed_in(sunniva), reverse("checks:pickup", args=[agreed_booking.pk])
    client.get(address)
    with CaptureQueriesContext(connection) as before:
        client.get(address)
    part_pictures.give_picture(part=drive_pin, upload=upload(picture()), by=teodor, at=now)

    with CaptureQueriesContext(connection) as after:
        page = client.get(address).content.decode()

    drive_pin.refresh_from_db()
    assert len(after) == len(before)
    assert page.count(shown(drive_pin)) == 2
    assert "Drive pin, as it looks when it is sound" in page
    assert drive_pin.look_for in page
