"""Senders as real processes, against a real mail server, on the engine of the run; celery's are in tests/faults."""

import signal

import pytest
from django.db import connection

from tests.outbox.post_office import Letters, manage, open_office, said, wait_until, without_kitshare

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.race]

FILL = """
from types import SimpleNamespace
from django.utils import timezone
from kitshare.outbox import actions as outbox
to = SimpleNamespace(pk=1, name="Sunniva Okparadine", email="sunniva@example.org", telephone="")
for number in range({count}):
    outbox.queue(key=f"letter:{{number}}", to=to, subject="Pickup", body="Come.", at=timezone.now())
"""
WAITING = "from kitshare.outbox.models import Message; print(Message.objects.waiting().count())"
AFTER_THE_LEASE = """
from django.utils import timezone
from kitshare.outbox import actions as outbox
print(outbox.deliver_due(at=timezone.now() + 1.2 * outbox.LEASE).sent)
"""


@pytest.fixture
def letters():
    return Letters()


@pytest.fixture
def env(letters, tmp_path):
    """An environment with a mail server and a database that several processes can share."""
    office = open_office(letters)
    address = connection.settings_dict
    if connection.vendor == "postgresql":
        where = f"{address['USER']}:{address['PASSWORD']}@{address['HOST']}:{address['PORT']}"
        database = f"postgres://{where}/{address['NAME']}"
    else:
        database = f"sqlite:///{tmp_path}/kitshare.sqlite3"
    env = without_kitshare() | {
        "DATABASE_URL": database,
        "EMAIL_URL": f"smtp://127.0.0.1:{office.port}",
        "KITSHARE_DATA": str(tmp_path),
    }
    if connection.vendor != "postgresql":
        said("migrate", "--verbosity", "0", env=env)
    yield env
    office.stop()


def fill(env, count: int) -> None:
    said("shell", "--verbosity", "0", "-c", FILL.format(count=count), env=env)


def waiting(env) -> int:
    return int(said("shell", "--verbosity", "0", "-c", WAITING, env=env))


def test_four_senders_at_once_send_each_message_once(env, letters):
    fill(env, 40)

    senders = [manage("tick", env=env) for _sender in range(4)]
    reports = [sender.communicate(timeout=120)[0] for sender in senders]

    assert [sender.returncode for sender in senders] == [0] * 4
    assert all("Failed, to be tried again: 0." in report for report in reports)
    assert len(letters.arrived) == len(set(letters.arrived)) == 40
    assert waiting(env) == 0


def test_a_sender_killed_between_sending_and_marking_loses_nothing_and_repeats_one_at_most(env, letters):
    fill(env, 5)
    letters.seconds_a_letter = 0.3
    sender = manage("tick", env=env)
    assert wait_until(lambda: len(letters.arrived) == 3)

    sender.send_signal(signal.SIGKILL)
    sender.communicate()
    letters.seconds_a_letter = 0.0
    at_once = said("tick", env=env)
    after = int(said("shell", "--verbosity", "0", "-c", AFTER_THE_LEASE, env=env))

    assert "Messages sent: 2." in at_once  # the two that nobody had claimed; the third is in a dead hand
    assert after == 1
    assert len(set(letters.arrived)) == 5
    assert len(letters.arrived) == 6  # the third came twice, under one Message-ID
    assert letters.arrived.count(letters.arrived[2]) == 2
    assert waiting(env) == 0
