import os
import socket
import time
from datetime import timedelta

import pytest
from django.db import OperationalError, connection

from kitshare.outbox.models import TRIES, Message
from kitshare.serving import actions as serving
from kitshare.serving.models import RINGING
from kitshare.watch import actions as watch
from kitshare.watch import probes
from kitshare.watch.late_post import late_post
from kitshare.watch.models import RoundName
from kitshare.watch.probes import Seen

THIRTY = timedelta(seconds=30)


@pytest.mark.django_db
def test_a_database_that_answers_with_every_step_taken_is_well(now, settings):
    settings.CELERY_BROKER_URL = ""
    watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now)

    seen = {one.name: one for one in probes.of_database(now)}

    assert seen.keys() == {"database", "migrations", "post", "clock"}
    assert all(one.ok for one in seen.values())
    assert [seen[name].number for name in ("migrations", "post", "clock")] == [0, 0, 0]


@pytest.mark.django_db
def test_a_step_that_was_not_taken_is_counted_and_nothing_is_asked_of_old_tables(now, monkeypatch):
    steps = probes._steps()
    monkeypatch.setattr(probes, "_steps", lambda: steps | {("kits", "9998_two"), ("kits", "9999_more")})

    database, migrations = probes.of_database(now)

    assert (database.ok, migrations) == (True, Seen("migrations", False, 2, "steps to take", needed=True))


def test_a_database_that_refuses_is_told_without_its_words(now, monkeypatch):
    def refuse():
        raise OperationalError("could not connect to server at 10.0.0.7 with password sesame")

    monkeypatch.setattr(connection, "cursor", refuse)

    assert probes.of_database(now) == [Seen("database", False, None, "cannot be reached", needed=True)]


def test_a_check_that_hangs_is_told_after_its_time_beside_what_the_others_saw(now, monkeypatch, settings):
    settings.CELERY_BROKER_URL = ""
    monkeypatch.setattr(probes, "SECONDS", 0.1)
    monkeypatch.setattr(probes, "of_database", lambda at: time.sleep(1) or [])
    began = time.monotonic()

    database, room, backup = probes.look(at=now)

    assert time.monotonic() - began < 0.9
    assert database == Seen("database", False, None, "does not answer", needed=True)
    assert (room.name, room.number > 0) == ("room", True)
    assert (backup.name, backup.ok) == ("backup", True)


def test_a_disk_without_room_is_told(now, monkeypatch):
    monkeypatch.setattr(probes, "LEAST_ROOM_MB", 10**12)

    assert [one.ok for one in probes.of_room(now)] == [False]


def test_a_broker_that_takes_a_call_and_says_nothing_is_left_in_time(now, settings, monkeypatch):
    monkeypatch.setattr(probes, "SECONDS", 0.1)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        settings.CELERY_BROKER_URL = f"redis://127.0.0.1:{silent.getsockname()[1]}/0"
        seen = probes.of_broker(now)

    assert seen == [Seen("broker", False, None, "cannot be reached")]


@pytest.mark.needs_redis
def test_a_broker_that_answers_is_well(now, settings):
    settings.CELERY_BROKER_URL = os.environ["REDIS_URL"]

    assert [one.ok for one in probes.of_broker(now)] == [True]


@pytest.mark.django_db
def test_post_is_as_late_as_the_letter_that_should_have_gone_first(now):
    def letter(key, **facts):
        facts = {"queued_at": now, "due_at": now, "to_address": "a@example.org"} | facts
        Message.objects.create(key=key, channel="mail", to_name="A", subject="S", body="B", **facts)

    ago = timedelta(minutes=40)
    # Three tries, so that it was due 1 + 2 + 4 minutes after the first; written the evening before, to go in the morning.
    again = now + timedelta(minutes=7)
    letter("refused, and tried again later", queued_at=now - 9 * ago, due_at=again - ago, attempts=3)
    letter("refused at once", queued_at=now - ago / 2, due_at=now + timedelta(minutes=1), attempts=1)
    letter("due", queued_at=now - 9 * ago, due_at=now - ago / 2)
    letter("not due yet", due_at=now + ago)
    letter("given up", queued_at=now - 9 * ago, due_at=now - 9 * ago, attempts=TRIES)
    letter("gone", queued_at=now - 9 * ago, due_at=now - 9 * ago, sent_at=now)

    late = late_post(now)

    assert (late.letters, late.by) == (3, ago)
    assert probes.of_post(now) == Seen("post", False, 40, "minutes late")


@pytest.mark.django_db
def test_the_clock_is_the_beat_that_has_its_lease_and_without_celery_the_loop(now, settings, subtests):
    settings.BEAT_LEASE_SECONDS = 30

    def seen_after(seconds):
        one = probes.of_clock(now + timedelta(seconds=seconds))
        return one.name, one.ok, one.number, one.word

    for broker, ring, at_most in (
        ("redis://127.0.0.1:1/0", lambda: serving.hold_lease(work=RINGING, holder="a", lasting=THIRTY, at=now), 60),
        ("", lambda: watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now), 299),
    ):
        settings.CELERY_BROKER_URL = broker
        with subtests.test(broker=broker):
            assert seen_after(0) == ("clock", False, None, "nothing rang yet")
            ring()
            assert seen_after(at_most) == ("clock", True, at_most, "seconds since it rang")
            assert seen_after(at_most + 2) == ("clock", False, at_most + 2, "seconds since it rang")
