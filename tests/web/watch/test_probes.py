"""What programs that watch the site are answered."""

import pytest
from django.urls import reverse

from kitshare.watch import probes
from kitshare.watch.probes import Seen
from kitshare.web.watch.middleware import AT_ONCE

WELL = Seen("database", True, 1.5, "milliseconds", needed=True)
LATE = Seen("post", False, 40, "minutes late")
GONE = Seen("database", False, None, "cannot be reached", needed=True)


def test_the_process_answers_without_a_database(client, settings):
    """No database is open here: a query would fail the test."""
    settings.SECURE_SSL_REDIRECT = True
    settings.ALLOWED_HOSTS = ["kit.example.org"]

    answer = client.get("/health/", headers={"host": "10.1.2.3:8000"})

    assert (answer.status_code, answer.json(), dict(answer.cookies)) == (200, {"ok": True}, {})
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.parametrize(
    ("seen", "ready", "all_of_it"), [([WELL], 200, 200), ([WELL, LATE], 200, 503), ([GONE, LATE], 503, 503)]
)
def test_it_is_ready_where_pages_can_be_answered_and_well_where_all_is_well(
    client, settings, monkeypatch, seen, ready, all_of_it
):
    settings.SECURE_SSL_REDIRECT = True
    monkeypatch.setattr(probes, "look", lambda *, at: seen)

    answers = [client.get(address, headers={"host": "10.1.2.3"}) for address in ("/ready/", "/ready/all/")]

    assert [answer.status_code for answer in answers] == [ready, all_of_it]
    told = answers[0].json()
    assert (told["ready"], told["well"]) == (ready == 200, all_of_it == 200)
    assert told["checks"]["database"] == {"ok": ready == 200, "number": seen[0].number, "word": seen[0].word}


@pytest.mark.django_db
@pytest.mark.usefixtures("asked_at_once")
def test_the_real_answer_names_checks_and_numbers_alone(client, settings):
    settings.CELERY_BROKER_URL = ""

    checks = client.get("/ready/").json()["checks"]

    assert checks.keys() >= {"database", "migrations", "post", "room"}
    assert {key for one in checks.values() for key in one} == {"ok", "number", "word"}


def test_what_is_answered_at_once_has_an_address_that_names_it():
    assert set(AT_ONCE) == {reverse(f"watch:{name}") for name in ("health", "ready", "well", "metrics")}
