"""Senders as real processes, against a real mail server, on the engine of the run; celery's are in tests/faults."""

import signal

import pytest
from django.db import connection
from django.utils import timezone

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message
from tests.outbox.post_office import (
    Letters,
    fill,
    manage,
    on_another_database,
    open_office,
    wait_until,
    without_kitshare,
)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.race]


@pytest.fixture
def letters():
    return Letters()


@pytest.fixture
def office(letters):
    office = open_office(letters)
    yield office
    office.stop()


@pytest.fixture
def env(transactional_db, office, settings, tmp_path):
    """An environment with a mail server, and a database that several processes share with the test."""
    env = without_kitshare() | {
        "EMAIL_URL": f"smtp://127.0.0.1:{office.port}",
        "KITSHARE_DATA": str(tmp_path),
        "KITSHARE_SECRET_KEY": settings.SECRET_KEY,  # a letter's name is made with it
    }
    at = connection.settings_dict
    if connection.vendor == "postgresql":
        yield env | {"DATABASE_URL": f"postgres://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}"}
        return
    file = str(tmp_path / "kitshare.sqlite3")
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [file])
    with on_another_database(NAME=file):
        yield env


def waiting() -> int:
    return Message.objects.waiting().count()


def test_four_senders_at_once_send_each_message_once(env, letters):
    fill(40)

    senders = [manage("tick", env=env) for _sender in range(4)]
    reports = [sender.communicate(timeout=120)[0] for sender in senders]

    assert [sender.returncode for sender in senders] == [0] * 4
    assert all("Failed, to be tried again: 0." in report for report in reports)
    assert len(letters.arrived) == len(set(letters.arrived)) == 40
    assert waiting() == 0


def test_a_sender_killed_between_sending_and_marking_loses_nothing_and_repeats_one_at_most(
    env, letters, office, settings
):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
    fill(5)
    letters.seconds_a_letter = 0.3
    sender = manage("tick", env=env)
    assert wait_until(lambda: len(letters.arrived) == 3)

    sender.send_signal(signal.SIGKILL)
    sender.communicate()
    letters.seconds_a_letter = 0.0
    at_once = outbox.deliver_due(at=timezone.now())
    after_the_lease = outbox.deliver_due(at=timezone.now() + 1.2 * outbox.LEASE)

    assert at_once.sent == 2  # those that nobody had claimed; the third is in a dead hand
    assert after_the_lease.sent == 1
    assert len(set(letters.arrived)) == 5
    assert len(letters.arrived) == 6  # the third came twice, under one Message-ID
    assert letters.arrived.count(letters.arrived[2]) == 2
    assert waiting() == 0
