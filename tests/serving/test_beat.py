"""The clock of a server: one beat rings, and a clock that jumps silences none."""

from datetime import timedelta

import pytest
from django.db import OperationalError
from django.utils import timezone

from kitshare.celery import app
from kitshare.serving import actions as serving
from kitshare.serving.beat import OneBeatRings

pytestmark = pytest.mark.django_db

ENTRIES = len(app.conf.beat_schedule)


class Beat(OneBeatRings):
    """A beat whose rings are counted instead of sent."""

    producer = None

    def __init__(self, clock):
        self.rung = []
        self.clock = clock
        super().__init__(app)
        for entry in self.schedule.values():
            entry.schedule.nowfun = clock.now

    def apply_async(self, entry, **_unused):
        self.rung.append(entry.name)

    def run(self):
        """Until there is nothing to do but to wait."""
        while not (wait := self.tick()):
            pass
        return wait


class Clock:
    def __init__(self):
        self.at = timezone.now()
        self.since_start = 1000.0

    def now(self):
        return self.at

    def pass_by(self, seconds):
        self.at += timedelta(seconds=seconds)
        self.since_start += seconds


@pytest.fixture
def clock(monkeypatch):
    one = Clock()
    monkeypatch.setattr("kitshare.serving.beat.timezone.now", one.now)
    monkeypatch.setattr("kitshare.serving.beat.time.monotonic", lambda: one.since_start)
    # A connection that a test holds in a transaction must stay.
    monkeypatch.setattr("kitshare.serving.beat.close_old_connections", lambda: None)
    return one


def test_of_two_beats_one_rings(clock):
    first, second = Beat(clock), Beat(clock)

    for _look in range(30):
        first.run()
        second.run()
        clock.pass_by(10)

    assert second.rung == []
    assert first.rung.count("deliver what is due") == 5  # at once, then each minute
    assert first.rung.count("forget old files") == 1


def test_another_takes_over_within_a_lease_and_a_third_of_the_last_sign_of_the_first(clock):
    first, second = Beat(clock), Beat(clock)
    first.run()
    second.run()

    silent = 0
    while not second.rung:  # the first was killed: it says nothing any more
        silent += clock.pass_by(1) or 1
        if silent % second.look_every == 0:
            second.run()

    assert silent <= 30 + 10
    assert len(second.rung) == ENTRIES
    clock.pass_by(10)
    first.run()
    assert len(first.rung) == ENTRIES


def test_a_beat_that_is_stopped_in_order_lets_the_other_begin_at_once(clock):
    first, second = Beat(clock), Beat(clock)
    first.run()

    first.close()
    second.run()

    assert len(second.rung) == ENTRIES


@pytest.mark.parametrize("jump", [timedelta(hours=-1), timedelta(days=1)])
def test_a_clock_that_jumps_makes_one_ring_more_and_no_silence(clock, jump):
    beat = Beat(clock)
    beat.run()
    assert len(beat.rung) == ENTRIES

    clock.at += jump
    beat.run()
    assert len(beat.rung) == 2 * ENTRIES
    for _look in range(12):
        clock.pass_by(10)
        beat.run()

    assert beat.rung.count("deliver what is due") == 4


def test_a_beat_without_a_database_rings_for_nothing_and_begins_again_when_it_is_back(clock, monkeypatch):
    def gone(**_unused):
        raise OperationalError("the server closed the connection")

    beat = Beat(clock)
    beat.run()
    with monkeypatch.context() as away:
        away.setattr(serving, "hold_lease", gone)
        clock.pass_by(60)
        assert beat.run() == beat.look_every
    assert len(beat.rung) == ENTRIES

    beat.run()

    assert len(beat.rung) == 2 * ENTRIES


def test_a_beat_that_waited_for_redis_longer_than_its_lease_does_not_ring(clock):
    slow, quick = Beat(clock), Beat(clock)
    slow.tick()
    rung = len(slow.rung)
    clock.pass_by(40)
    quick.run()

    slow.apply_entry(next(iter(slow.schedule.values())))

    assert len(quick.rung) == ENTRIES
    assert len(slow.rung) == rung
