"""What a phone fetches so as to work without signal: the worker, the manifest, its page, and the token to send with."""

import json
import re
from pathlib import Path

import pytest
from PIL import Image

from kitshare.bookings.models import Booking, Stage
from kitshare.web.phone import views
from kitshare.web.phone.files import own_files, version

STATIC = Path(views.__file__).parents[1] / "static"
BASE = (STATIC / "kitshare" / "base.css").read_text()


def settings_in(script: str) -> dict:
    return json.loads(re.search(r"begin\((.*)\);", script)[1])


def test_the_worker_stands_at_the_root_is_asked_for_each_time_and_names_every_file(client, scheme):
    answer = client.get("/sw.js")
    told = settings_in(answer.content.decode())

    assert (answer["Content-Type"], answer["Cache-Control"]) == ("text/javascript", "no-cache")
    assert "worker-src 'self'" in answer["Content-Security-Policy"]
    ours = {f"/static/kitshare/{path.relative_to(STATIC / 'kitshare')}" for path in (STATIC / "kitshare").rglob("*.*")}
    assert ours <= set(told["files"])
    assert set(told["files"]) - ours == {"/static/django_htmx/htmx-2.min.js"}
    assert told["static"] == "/static/"


def test_another_telephone_number_makes_another_version_and_so_does_another_file(scheme, monkeypatch):
    before = version(scheme)
    scheme.telephone = "01632 960 999"
    with_number = version(scheme)
    monkeypatch.setattr("kitshare.web.phone.files.own_files", lambda: type(own_files())([], "another"))

    assert len({before, with_number, version(scheme)}) == 3


def test_the_manifest_names_the_scheme_and_icons_of_the_size_that_it_says(client, scheme):
    told = client.get("/kitshare.webmanifest").json()

    assert (told["name"], told["start_url"], told["display"]) == ("Linnow Vale Pressing Share", "/", "standalone")
    assert {icon["purpose"] for icon in told["icons"]} == {"any", "maskable"}
    for icon in told["icons"]:
        with Image.open(STATIC / icon["src"].removeprefix("/static/")) as picture:
            assert f"{picture.width}x{picture.height}" == icon["sizes"]
    assert {told["background_color"], told["theme_color"]} <= set(re.findall(r"#\w{6}", BASE))


def test_the_colours_around_a_page_are_those_of_the_palette(client, scheme):
    page = client.get("/offline/").content.decode()

    colours = re.findall(r'name="theme-color" content="(#\w{6})"', page)
    assert len(colours) == 2
    assert set(colours) <= set(re.findall(r"#\w{6}", BASE))


def test_the_page_without_signal_has_the_telephone_and_nobody_s_name(client, scheme):
    page = client.get("/offline/").content.decode()

    assert "01632 960 123" in page
    assert "No signal" in page


def test_the_token_says_who_is_signed_in_and_is_never_kept(client, sunniva):
    stranger = client.get("/phone/token/")
    client.force_login(sunniva)
    signed_in = client.get("/phone/token/")

    assert (stranger.json()["member"], signed_in.json()["member"]) == (None, sunniva.pk)
    assert "no-store" in signed_in["Cache-Control"]
    assert len(signed_in.json()["token"]) == 64


def test_each_page_says_whose_it_is(client, sunniva):
    stranger = client.get("/people/sign-in/")
    client.force_login(sunniva)
    own = client.get("/")

    assert (stranger["X-Kitshare-Member"], own["X-Kitshare-Member"]) == ("0", str(sunniva.pk))


AHEAD = {"X-Kitshare-Keep": "1"}


@pytest.fixture
def weeks_ahead(agreed_booking, sunniva, client):
    """A booking that is agreed, and days away."""
    client.force_login(sunniva)
    assert Booking.objects.get().stage == Stage.AGREED
    return agreed_booking


@pytest.mark.parametrize("kind", ["pickup", "return"])
def test_a_phone_gets_the_sheet_ahead_of_its_day_and_a_page_says_no(client, weeks_ahead, kind):
    address = f"/checks/{kind}/{weeks_ahead.pk}/"

    now, ahead = client.get(address), client.get(address, headers=AHEAD)

    assert "data-sheet" not in now.content.decode()
    assert "data-sheet" in ahead.content.decode()
    assert (now["X-Kitshare-Keep"], ahead["X-Kitshare-Keep"]) == ("", "1")


def test_no_sheet_is_given_ahead_where_more_than_time_is_in_the_way(client, weeks_ahead):
    Booking.objects.update(stage=Stage.CALLED_OFF)

    answer = client.get(f"/checks/pickup/{weeks_ahead.pk}/", headers=AHEAD)

    assert "data-sheet" not in answer.content.decode()
    assert answer["X-Kitshare-Keep"] == "1"  # what the phone has is no longer true


def test_pages_with_private_facts_that_are_no_check_are_not_kept(client, weeks_ahead):
    for address in ("/", "/people/me/", f"/bookings/{weeks_ahead.pk}/", "/season/"):
        assert "X-Kitshare-Keep" not in client.get(address).headers
    assert client.get(f"/checks/print/{weeks_ahead.pk}/")["X-Kitshare-Keep"] == "1"


def test_the_page_of_a_booking_names_the_checks_to_keep(client, weeks_ahead):
    page = client.get(f"/bookings/{weeks_ahead.pk}/").content.decode()

    named = re.search(r'data-keep-sheets="([^"]*)"', page)[1].split()
    assert named == [f"/checks/pickup/{weeks_ahead.pk}/", f"/checks/return/{weeks_ahead.pk}/"]
