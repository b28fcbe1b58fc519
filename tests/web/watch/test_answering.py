"""The number of a request, and what the log keeps of it."""

import logging
import re

import pytest
from django.test import Client

from tests.serving.test_logs import written  # noqa: F401  a fixture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def every_answer(caplog):
    caplog.set_level(logging.INFO, logger="kitshare.answered")


def test_a_sound_number_is_kept_and_anything_else_is_replaced(client, subtests):
    for given, kept in {
        "7b1f0c52-aaaa-bbbb-cccc-000000000001": True,
        "": False,
        "short": False,
        "a" * 65: False,
        "forged\\nline of the log": False,
        '"quoted" and spaced': False,
    }.items():
        with subtests.test(given=given):
            number = client.get("/health/", headers={"X-Request-ID": given})["X-Request-ID"]
            assert (number == given) == kept
            assert re.fullmatch(r"[0-9A-Za-z][0-9A-Za-z.-]{7,63}", number)


def test_an_answer_is_one_line_with_the_page_and_the_key_of_whoever_asked(signed_in, perpetua, written):  # noqa: F811
    number = signed_in(perpetua).get("/bookings/")["X-Request-ID"]

    line = written()[-1]
    assert line.pop("ms") > 0
    assert line.pop("at")
    assert line == {
        "event": "answered",
        "level": "info",
        "logger": "kitshare.answered",
        "request": number,
        "member": perpetua.pk,
        "method": "GET",
        "page": "bookings:list",
        "status": 200,
    }


def test_no_name_no_address_and_no_token_is_logged(signed_in, perpetua, sunniva, settings, monkeypatch, written):  # noqa: F811
    """A feed that is there, one that is not, an address typed wrong, a wrong password, and a page that breaks on a member."""
    token = "0123456789abcdef0123456789abcdef"
    perpetua.feed_token = token
    perpetua.save()
    browser = signed_in(perpetua)
    browser.raise_request_exception = False

    def break_on(member, _today):
        raise ValueError(f"{member.email}, {member.telephone}")

    monkeypatch.setattr("kitshare.web.home.views.needs_of", break_on)
    for address in (
        f"/season/own-feed/{token}.ics",
        f"/season/own-feed/{token[::-1]}.ics",
        f"/{token}/Okparadine/",
        "/",
    ):
        browser.get(address)
    Client().post("/people/sign-in/", {"username": sunniva.email, "password": "sesame open"})

    lines = written()
    said = " ".join(map(str, lines))
    failed = [line for line in lines if line["logger"] == "django.request"]
    assert [line["event"].partition(": ")[2] for line in failed] == [
        "/season/own-feed/<slug:token>.ics",
        "[no page of ours]",
        "/",
    ]
    assert all(line["request"] and line["member"] == perpetua.pk for line in failed)
    assert "Traceback" in said
    for word in (token, token[::-1], "@example.org", "Okparadine", "Quillstone", "960 200", "sesame"):
        assert word not in said
