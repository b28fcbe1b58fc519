"""Two beats as real processes: one rings; killed, the other does; without Redis both wait and go on by themselves."""

import sys
import time

import pytest

from kitshare.celery import app
from kitshare.serving.models import Lease
from tests.faults.crew import Crew, environment, waiting_rings
from tests.faults.servers import OwnRedis
from tests.outbox.post_office import wait_until

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_redis, pytest.mark.needs_postgresql]

LEASE = 3  # seconds, from the environment of the crew
A_ROUND = len(app.conf.beat_schedule)  # rings a second, by tests/faults/quick.py


@pytest.fixture
def own_redis(tmp_path):
    own = OwnRedis(tmp_path)
    yield own
    own.kill()


def who_rings() -> str:
    return Lease.objects.values_list("holder", flat=True).first() or ""


def test_one_of_two_beats_rings_and_another_takes_over_from_the_killed(own_redis, tmp_path, subtests):
    crew = Crew(environment(broker=own_redis.address, folder=tmp_path), tmp_path / "beat.log")
    beats = {process.pid: process for process in (crew.beat(), crew.beat())}
    try:
        assert wait_until(lambda: waiting_rings(own_redis.address) >= A_ROUND)
        pid = int(who_rings().split()[-2])
        began, rung = time.monotonic(), waiting_rings(own_redis.address)
        time.sleep(4)
        rounds = (waiting_rings(own_redis.address) - rung) / A_ROUND
        with subtests.test("one rings"):
            assert rounds <= time.monotonic() - began + 2  # two would make twice as many

        crew.kill(beats[pid])
        rung, killed_at = waiting_rings(own_redis.address), time.monotonic()
        with subtests.test("the other rings soon"):
            assert wait_until(lambda: waiting_rings(own_redis.address) >= rung + A_ROUND)
            silent = time.monotonic() - killed_at
            sys.stdout.write(f"Without a beat for {silent:.1f} s, with a lease of {LEASE} s.\n")
            assert str(pid) not in who_rings()
            assert silent <= LEASE * 4 / 3 + 4  # and a second for the round, and three for a slow machine

        own_redis.kill()
        time.sleep(2)
        own_redis.start()
        with subtests.test("it rings again when Redis is back"):
            assert wait_until(lambda: waiting_rings(own_redis.address) >= A_ROUND)
    finally:
        crew.kill_all()
