"""The page of the site, and the line on the first page that leads to it."""

import html
from datetime import datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitshare.keeping import record
from kitshare.keeping.record import Backup
from kitshare.serving import actions as serving
from kitshare.serving.models import RINGING
from kitshare.watch import actions as watch
from kitshare.watch import standing as facts
from kitshare.watch.models import RoundName
from kitshare.watch.standing import standing
from kitshare.web.watch.troubles import ago, troubles
from tests.watch.test_standing import letter, no_backup  # noqa: F401  one is a fixture for every test here

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_that_moment(monkeypatch, now, no_backup, settings):  # noqa: F811
    monkeypatch.setattr(timezone, "now", lambda: now)
    settings.CELERY_BROKER_URL = ""


def back_up(at: datetime) -> None:
    record.note(Backup(made_at=at, checked_at=at, place="there", size_bytes=1, rows=1, photos=0, photos_missing=0))


def said(now) -> list[str]:
    return [f"{one.tone}: {one.text}" for one in troubles(standing(now))]


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (timedelta(minutes=1), "1 minute"),
        (timedelta(minutes=119), "119 minutes"),
        (timedelta(hours=47), "47 hours"),
        (timedelta(days=9, hours=3), "9 days"),
    ],
)
def test_a_span_is_said_as_people_say_it(span, words):
    assert ago(span) == words


def test_all_that_is_well_says_nothing(now):
    watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now)
    back_up(now - timedelta(hours=20))
    letter(now - timedelta(minutes=2))

    assert said(now) == []


def test_each_trouble_says_since_when_and_why(now, settings, monkeypatch):
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(facts, "LEAST_ROOM_MB", 10**12)
    for name in RoundName:
        watch.note_round(name=name, seconds=1, at=now - timedelta(hours=2, minutes=18))
    serving.hold_lease(work=RINGING, holder="a beat", lasting=timedelta(seconds=30), at=now)
    back_up(now - timedelta(days=9))
    for _ in range(4):
        letter(now - timedelta(minutes=40), attempts=2, last_error="421 4.7.0 too many\n letters")
    letter(now, attempts=99)

    found = said(now)

    assert found[:-1] == [
        "stop: Post is 40 minutes late because the mail server refuses it (421 4.7.0 too many letters): 4 letters wait.",
        "stop: 1 letter could not be sent and is not tried any more.",
        "stop: The reminders' clock has not run since Wed 1 Sep, 07:12.",
        "stop: The worker has not been seen since Wed 1 Sep, 07:12.",
        "stop: The last backup is 9 days old. What was written since then stands in no other place.",
    ]
    assert found[-1].endswith("MB are free where the data lie. Soon nothing can be saved.")


def test_of_a_server_that_nothing_rings_for_that_alone_is_said(now, settings, signed_in, perpetua, subtests):
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    back_up(now)
    browser = signed_in(perpetua)

    def page() -> str:
        return html.unescape(browser.get(reverse("watch:status")).text)

    with subtests.test("no beat was started yet"):
        (never,) = said(now)
        assert never.startswith("care: Nothing rings yet: on a server a “beat” rings")
        assert "nothing yet; it would be the beat" in page()
    for name in RoundName:
        watch.note_round(name=name, seconds=1, at=now - timedelta(minutes=9))
    lasting = timedelta(seconds=settings.BEAT_LEASE_SECONDS)
    serving.hold_lease(work=RINGING, holder="a beat", lasting=lasting, at=now - timedelta(minutes=8))
    with subtests.test("it was killed, and no other took its place"):
        (silent,) = said(now)
        assert silent.startswith("stop: Nothing rings since Wed 1 Sep, 09:22")
        assert "Whoever runs the server starts the beat" in page()
        assert "nothing: the beat rang last on Wed 1 Sep, 09:22" in page()
    serving.hold_lease(work=RINGING, holder="another", lasting=lasting, at=now)
    with subtests.test("another rings, and now it is seen that the worker is gone too"):
        assert "the beat, last heard on Wed 1 Sep, 09:30" in page()
        assert [one.partition(" has not")[0] for one in said(now)] == ["stop: The reminders' clock", "stop: The worker"]


def test_of_a_site_without_celery_its_loop_is_named(now, signed_in, perpetua):
    browser = signed_in(perpetua)
    pages = [html.unescape(browser.get(reverse("watch:status")).text)]
    for minutes in (9, 0):
        watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now - timedelta(minutes=minutes))
        pages.append(html.unescape(browser.get(reverse("watch:status")).text))

    never, silent, well = pages
    assert "nothing yet; it would be the site's own loop" in never
    assert "nothing: the site's own loop rang last on Wed 1 Sep, 09:21" in silent
    assert "the site's own loop, last heard on Wed 1 Sep, 09:30" in well


def test_post_that_nobody_tried_to_send_and_a_clock_that_never_ran_are_told_as_such(now):
    letter(now - timedelta(hours=3))

    post, clock, backup = said(now)

    assert post == "stop: Post is 3 hours late, and nobody has tried to send it: 1 letter waits."
    assert clock.startswith("stop: The reminders' clock has not run yet.")
    assert backup.startswith("care: No backup of this site is known.")
    assert len(troubles(standing(now), is_demonstration=True)) == 2


def test_the_page_says_what_is_wrong_and_what_is_known(signed_in, perpetua, now, django_assert_max_num_queries):
    letter(now - timedelta(minutes=40), attempts=2, last_error="421 <b>too many</b> letters")
    browser = signed_in(perpetua)

    with django_assert_max_num_queries(8):
        page = browser.get(reverse("watch:status")).content.decode()

    assert "Post is 40 minutes late" in page
    assert "&lt;b&gt;too many&lt;/b&gt;" in page
    assert "never yet" in page
    assert "none known" in page


def test_the_page_says_that_all_is_well(signed_in, perpetua, now):
    watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now)
    back_up(now)

    assert "All is well" in signed_in(perpetua).get(reverse("watch:status")).content.decode()


def test_it_is_the_coordinators_page(signed_in, sunniva, teodor):
    assert [signed_in(one).get(reverse("watch:status")).status_code for one in (sunniva, teodor)] == [403, 403]


def test_the_first_page_says_the_loudest_and_how_many_more_there_are(signed_in, perpetua, sunniva, now):
    back_up(now - timedelta(days=9))
    letter(now - timedelta(minutes=40), attempts=2, last_error="421 too many letters")

    loud = signed_in(perpetua).get("/").context["needs"][0]
    quiet = signed_in(sunniva).get("/").context["needs"]

    assert loud.text.startswith("Post is 40 minutes late")
    assert loud.text.endswith("1 letter waits. And 2 things more.")
    assert loud.address == reverse("watch:status")
    assert "the site" not in {need.word for need in quiet}


def test_figures_are_for_whoever_knows_the_word(client, settings):
    settings.METRICS_TOKEN = ""
    assert client.get("/metrics/").status_code == 404
    settings.METRICS_TOKEN = "a long word of our own"

    asked = [client.get("/metrics/", headers=with_it) for with_it in ({}, {"Authorization": "Bearer another"})]
    answer = client.get("/metrics/", headers={"Authorization": "Bearer a long word of our own"})

    assert [one.status_code for one in asked] == [401, 401]
    assert answer["Content-Type"].startswith("text/plain; version=")
    assert b"kitshare_post_late 0.0" in answer.content


def test_a_backup_is_asked_for_once_however_often_the_button_is_pressed(signed_in, perpetua, sunniva):
    browser = signed_in(perpetua)

    answers = [browser.post(reverse("watch:back_up")) for _ in range(2)]

    assert answers[0]["Location"] == answers[1]["Location"]
    assert "It begins in a few seconds." in browser.get(answers[0]["Location"]).content.decode()
    assert signed_in(sunniva).post(reverse("watch:back_up")).status_code == 403
