"""Senders as real processes, against a real mail server: on the engine of the run, and with what kills them."""

import os
import signal
import subprocess
import sys
import uuid

import pytest
from django.db import connection

from tests.outbox.post_office import ROOT, Letters, manage, open_office, said, wait_until, without_kitshare

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


@pytest.fixture
def queue():
    """A queue of its own in the Redis of the run."""
    return f"kitshare-test-{uuid.uuid4().hex}"


@pytest.fixture
def worker(env, queue, tmp_path):
    """Start a celery worker: `worker()`. Each is stopped at the end."""
    started = []

    def start() -> subprocess.Popen[bytes]:
        words = ["-A", "kitshare.celery", "worker", "-c", "1", "-Q", queue, "--loglevel", "warning"]
        words += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        with (tmp_path / "celery.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "celery", *words],
                cwd=ROOT,
                env=env,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        started.append(process)
        return process

    yield start
    for process in started:
        process.terminate()
        process.wait(timeout=30)


def ring(env, queue: str) -> None:
    """Ring for the sender, as the clock does each minute."""
    said(
        "shell", "--verbosity", "0", "-c",
        "from django.utils import timezone; from kitshare.celery import app; import kitshare.outbox.tasks as tasks\n"
        "due = tasks.outbox.what_is_due(at=timezone.now(), limit=50)\n"
        f"tasks.deliver.apply_async((due,), queue={queue!r}, expires=55)",
        env=env,
    )  # fmt: skip


@pytest.mark.needs_redis
def test_a_worker_on_redis_sends_what_is_due(env, letters, queue, worker):
    fill(env, 3)
    worker()

    ring(env, queue)

    assert wait_until(lambda: len(letters.arrived) == 3)
    assert wait_until(lambda: waiting(env) == 0, seconds=10)


@pytest.mark.needs_redis
def test_losing_everything_in_redis_loses_no_message(env, letters, queue, worker):
    fill(env, 3)
    ring(env, queue)
    said(
        "shell", "--verbosity", "0", "-c",
        f"import os, redis; redis.Redis.from_url(os.environ['REDIS_URL']).delete({queue!r})",
        env=env,
    )  # fmt: skip
    worker()
    assert not wait_until(lambda: letters.arrived, seconds=5)

    ring(env, queue)

    assert wait_until(lambda: len(letters.arrived) == 3)


@pytest.mark.needs_redis
def test_a_worker_killed_while_it_sends_loses_no_message(env, letters, queue, worker):
    fill(env, 3)
    letters.seconds_a_letter = 0.5
    first = worker()
    ring(env, queue)
    assert wait_until(lambda: len(letters.arrived) == 2)

    os.killpg(first.pid, signal.SIGKILL)
    letters.seconds_a_letter = 0.0
    worker()
    ring(env, queue)
    assert wait_until(lambda: len(set(letters.arrived)) == 3)
    said("shell", "--verbosity", "0", "-c", AFTER_THE_LEASE, env=env)

    assert len(letters.arrived) <= 4
    assert waiting(env) == 0
