"""Long works: asked for, taken up, told about, ended; whoever dies in between."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.works import actions as works
from kitshare.works.actions import Made
from kitshare.works.models import KEPT_FOR, LEASE, TRIES, State, Work, WorkFile

A_SECOND = timedelta(seconds=1)


@pytest.fixture
def work(perpetua, now) -> Work:
    return works.ask(kind="copy", about="x", keys={"season": 0, "kind": "csv"}, title="Copy", by=perpetua, at=now)


def test_the_same_asked_for_twice_is_one_work_until_it_is_over(work, perpetua, now):
    facts = {"kind": "copy", "about": "x", "keys": {}, "title": "Copy", "by": perpetua, "at": now}
    assert works.ask(**facts) == work
    works.finish(work=works.take_up(work=work, at=now), words="Done.", made=None, at=now)

    assert works.ask(**facts) != work


def test_the_database_holds_one_at_a_time_and_when_it_ended(work, perpetua, now):
    facts = {"kind": "copy", "title": "Copy", "asked_by": perpetua, "asked_at": now}

    with pytest.raises(IntegrityError, match=r"work_under_way_once|UNIQUE"), transaction.atomic():
        Work.objects.create(about=work.about, **facts)
    for state, ended_at in ((State.DONE, None), (State.RUNNING, now)):
        with pytest.raises(IntegrityError, match="work_says_when_it_ended"), transaction.atomic():
            Work.objects.create(about=f"other {state}", state=state, ended_at=ended_at, **facts)


def test_one_of_two_takes_it_up(work, now):
    assert works.take_up(work=work, at=now).tries == 1
    assert works.take_up(work=work, at=now + LEASE / 2) is None


def test_what_a_killed_worker_left_is_taken_up_and_the_dead_changes_nothing_more(work, now):
    dead = works.take_up(work=work, at=now)
    assert works.note_progress(work=dead, done=3, total=9, words="On it.", at=now + A_SECOND)
    later = now + A_SECOND + LEASE + A_SECOND

    living = works.take_up(work=work, at=later)

    assert (living.tries, living.done) == (2, 0)
    assert not works.note_progress(work=dead, done=4, total=9, words="Still here.", at=later)
    works.finish(work=dead, words="Mine.", made=Made("a.csv", "text/csv", b"dead"), at=later)
    assert (Work.objects.get().state, WorkFile.objects.count()) == (State.RUNNING, 0)
    works.finish(work=living, words="Mine.", made=Made("a.csv", "text/csv", b"living"), at=later)
    assert (Work.objects.get().state, bytes(WorkFile.objects.get().data)) == (State.DONE, b"living")


def test_a_work_that_takes_its_worker_with_it_each_time_is_given_up(work, now):
    for turn in range(TRIES):
        assert works.take_up(work=work, at=now + turn * 2 * LEASE)

    assert works.take_up(work=work, at=now + TRIES * 2 * LEASE) is None

    ended = Work.objects.get()
    assert (ended.state, "stopped three times" in ended.words) == (State.FAILED, True)


def test_one_that_is_laid_down_is_begun_anew_at_once(work, now):
    works.lay_down(work=works.take_up(work=work, at=now))

    assert works.take_up(work=work, at=now).tries == 1


def test_cancelled_before_anybody_began_it_is_over_at_once(work, perpetua, now):
    ended = works.cancel(work=work, by=perpetua, at=now)

    assert (ended.state, ended.words.startswith("Perpetua Quillstone cancelled")) == (State.CANCELLED, True)
    assert works.take_up(work=work, at=now) is None


def test_cancelled_while_under_way_its_worker_hears_of_it_or_the_next_ends_it(work, perpetua, now):
    begun = works.take_up(work=work, at=now)

    assert works.cancel(work=work, by=perpetua, at=now).state == State.RUNNING
    assert not works.note_progress(work=begun, done=1, total=2, words="", at=now)
    assert works.take_up(work=work, at=now + 2 * LEASE) is None  # its worker was killed before it heard
    assert Work.objects.get().state == State.CANCELLED


def test_what_is_over_for_a_week_is_forgotten_with_its_file(work, perpetua, now):
    works.finish(work=works.take_up(work=work, at=now), words="", made=Made("a", "text/csv", b"x"), at=now)
    works.ask(kind="copy", about="open", keys={}, title="Copy", by=perpetua, at=now)

    assert works.sweep(at=now + KEPT_FOR - A_SECOND) == 0
    assert works.sweep(at=now + KEPT_FOR + A_SECOND) == 1
    assert (Work.objects.get().title, WorkFile.objects.count()) == ("Copy", 0)
