"""The web process killed in the middle of a booking, and a Redis that it rings for and that is gone or hangs."""

import json
import signal
import socket
import subprocess
import sys
import time

import pytest
from django.db import connection
from kombu import Connection
from kombu.exceptions import OperationalError

from kitshare.celery import app
from tests.faults.servers import free_port
from tests.outbox.post_office import ROOT, without_kitshare

# The whole way of a request, in a process of its own: with a word "stall" it stops before it writes to the logbook.
ASK = """
import json, sys, time
from datetime import datetime
import django
django.setup()
from django.conf import settings
from django.test import Client
from django.utils import timezone
from kitshare.bookings.models import BookedDay, Booking
from kitshare.logbook import actions as logbook
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.people.models import Member
settings.SESSION_ENGINE = "django.contrib.sessions.backends.signed_cookies"
told = json.loads(sys.argv[1])
now = datetime.fromisoformat(told["now"])
timezone.now = lambda: now
def stall(**_line):
    print(BookedDay.objects.count(), flush=True)
    time.sleep(60)
if told["stall"]:
    logbook.write = stall
client = Client()
client.force_login(Member.objects.get(pk=told["who"]))
places = [client.post("/bookings/new/", told["fields"], headers={"host": "127.0.0.1"}).get("Location") for _ in "ab"]
print(len(set(places)), *(one.objects.count() for one in (Booking, BookedDay, Message, Entry)))
"""


def asks(folder, **told) -> "subprocess.Popen[str]":
    env = without_kitshare() | {"KITSHARE_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "kitshare.settings"}
    command = [sys.executable, "-c", ASK, json.dumps(told)]
    return subprocess.Popen(command, cwd=ROOT, env=env | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, text=True)


@pytest.mark.one_engine
@pytest.mark.skipif(connection.vendor != "sqlite", reason="copies the data of the test into a file")
@pytest.mark.django_db(transaction=True)
def test_a_web_process_killed_in_the_middle_of_a_booking_leaves_nothing_half_made(
    typed, sunniva, perpetua, now, tmp_path
):
    told = {"who": sunniva.pk, "fields": typed(deed="send"), "now": now.isoformat()}
    (tmp_path / "static").mkdir()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(tmp_path / "kitshare.sqlite3")])

    with asks(tmp_path, stall=True, **told) as killed:
        days_within = int(killed.stdout.readline())
        killed.send_signal(signal.SIGKILL)
    with asks(tmp_path, stall=False, **told) as again:
        pages, booked, days, messages, lines = map(int, again.communicate(timeout=60)[0].split())

    assert days_within == 3  # in the middle of it: two days of the booking and one of care were written
    assert (pages, booked, days, messages) == (1, 1, days_within, 1)  # sent twice since: one booking, told once
    assert lines == 1


@pytest.fixture
def hanging_port():
    """Where somebody takes connections and never answers."""
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        yield silent.getsockname()[1]


def test_who_rings_while_redis_is_gone_or_hangs_hears_it_within_seconds(hanging_port, subtests):
    for what, port, most in (("gone", free_port(), 1.5), ("hangs", hanging_port, 8)):
        with subtests.test(what):
            began = time.monotonic()
            with (
                Connection(f"redis://127.0.0.1:{port}/0", transport_options=app.conf.broker_transport_options) as line,
                pytest.raises(OperationalError),
            ):
                app.send_task("kitshare.outbox.tasks.share_out_what_is_due", connection=line)
            assert time.monotonic() - began < most
