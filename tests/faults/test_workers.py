"""Senders and Redis, killed outright: every letter comes, and comes twice only where the answer to the first was lost.

DEVELOPERS.md has the figures of 1,000 letters: KITSHARE_LETTERS=1000 KITSHARE_KILLS=12.
"""

import os
import random
import sys
import time

import pytest
from django.db import connection, transaction
from django.utils import timezone

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message
from tests.faults.crew import Crew, environment, ring, waiting_rings
from tests.faults.servers import OwnRedis
from tests.outbox.post_office import Letters, fill, open_office, the_leases_run_out, wait_until

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_redis, pytest.mark.needs_postgresql]

LETTERS = int(os.environ.get("KITSHARE_LETTERS", "100"))
KILLS = int(os.environ.get("KITSHARE_KILLS", "2"))
SENDERS = 2


@pytest.fixture
def own_redis(tmp_path):
    own = OwnRedis(tmp_path)
    yield own
    own.kill()


@pytest.fixture
def letters():
    return Letters()


@pytest.fixture
def office(letters):
    office = open_office(letters)
    yield office
    office.stop()


@pytest.fixture
def crew(own_redis, office, tmp_path):
    crew = Crew(environment(broker=own_redis.address, folder=tmp_path, mail_port=office.port), tmp_path / "celery.log")
    yield crew
    crew.kill_all()
    if sys.exc_info()[1]:
        sys.stderr.write(crew.log.read_text()[-5000:])


def test_many_letters_at_one_minute_survive_workers_and_a_redis_that_are_killed(own_redis, letters, crew):
    fill(LETTERS)
    letters.seconds_a_letter = 0.02
    chance = random.Random(2027)
    moments = sorted(chance.sample(range(LETTERS // 10, LETTERS * 9 // 10), KILLS + 1))
    redis_goes_at = moments.pop(KILLS // 2)
    workers = [crew.worker(senders=SENDERS) for _worker in range(2)]
    began = time.monotonic()

    def keep_ringing_until(claim) -> None:
        """As a beat does, but sooner: again where no ring waits, and rows still do."""
        until = time.monotonic() + 120
        while not claim():
            assert time.monotonic() < until, f"{len(set(letters.arrived))} came"
            if not waiting_rings(own_redis.address) and Message.objects.to_send(timezone.now()).exists():
                ring(own_redis.address)
            time.sleep(0.05)

    for moment in sorted([*moments, redis_goes_at]):
        keep_ringing_until(lambda moment=moment: len(set(letters.arrived)) >= moment)
        if moment == redis_goes_at:
            own_redis.kill()
            own_redis.start()
        else:
            one = chance.randrange(len(workers))
            crew.kill(workers[one])
            workers[one] = crew.worker(senders=SENDERS)
    # What is left is in hands, those of the dead among them.
    keep_ringing_until(lambda: not Message.objects.to_send(timezone.now()).exists())
    assert wait_until(lambda: Message.objects.waiting().count() <= KILLS * SENDERS)
    took = time.monotonic() - began
    time.sleep(1)
    the_leases_run_out()
    keep_ringing_until(lambda: not Message.objects.waiting().exists())

    twice = len(letters.arrived) - len(set(letters.arrived))
    sys.stdout.write(f"{LETTERS} letters, {KILLS} workers and Redis killed: {twice} came twice; {took:.1f} s.\n")
    assert len(set(letters.arrived)) == LETTERS
    assert twice <= KILLS * SENDERS  # each sender has one letter in hand


def somebody_waits_for_a_row() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_locks WHERE NOT granted AND locktype = 'transactionid'")
        return cursor.fetchone() is not None


def test_a_worker_killed_before_and_during_a_sending_loses_no_letter(own_redis, letters, crew, subtests):
    fill(1)
    letter = Message.objects.get()
    worker = crew.worker()

    with subtests.test("before: another holds the row, so that it has claimed nothing yet"):
        with transaction.atomic():
            Message.objects.select_for_update().get()
            ring(own_redis.address, "outbox.tasks.deliver", [letter.pk])
            assert wait_until(somebody_waits_for_a_row)
            crew.kill(worker)
        letter.refresh_from_db()
        assert (letters.arrived, letter.claimed_until, letter.attempts) == ([], None, 0)

    letters.seconds_a_letter = 5
    worker = crew.worker()
    ring(own_redis.address)
    with subtests.test("during: the server has the letter, and has not answered"):
        assert wait_until(lambda: len(letters.arrived) == 1)
        crew.kill(worker)
        letter.refresh_from_db()
        assert letter.claimed_until > timezone.now()  # in a dead hand, until the lease is over

    letters.seconds_a_letter = 0.0
    crew.worker()
    the_leases_run_out()
    ring(own_redis.address)
    assert wait_until(lambda: not Message.objects.waiting().exists())
    assert len(letters.arrived) == 2
    assert len(set(letters.arrived)) == 1

    # Rung for once more, as Redis does for what nobody acknowledged.
    assert outbox.deliver(keys=[letter.pk], at=timezone.now()) == outbox.Delivered(sent=0, failed=0)
