"""What a long work does, and what is left of one that does not come to its end."""

import pytest
from django.db import connection

from kitshare.bookings.models import Booking
from kitshare.bringing import actions as bringing
from kitshare.bringing import copies
from kitshare.bringing.models import BroughtFile
from kitshare.bringing.naming import Names
from kitshare.engine import one_writes_at_a_time
from kitshare.keeping import postgresql
from kitshare.keeping.record import Backup
from kitshare.keeping.refusals import KeepingRefused
from kitshare.works import actions as works
from kitshare.works import kinds, running, tasks
from kitshare.works.models import State, Work, WorkFile
from tests.bringing.conftest import sent, table  # noqa: F401  one is a fixture


@pytest.fixture
def brought(sent, sorrelhythe, season, mill, drive_pin) -> BroughtFile:  # noqa: F811
    return sent(table({}, {"out_on": "2027-09-18", "back_on": "2027-09-20"}))


@pytest.fixture
def bring(brought, perpetua, now) -> Work:
    keys = {"brought": str(brought.pk)}
    return works.ask(kind="bring_in", about=str(brought.pk), keys=keys, title="Bring in", by=perpetua, at=now)


def ended(work) -> tuple[str, str]:
    work.refresh_from_db()
    return work.state, work.words


def test_a_file_is_brought_in_and_done_twice_makes_nothing_twice(bring, brought, now):
    running.do(bring.pk, clock=lambda: now)
    running.do(bring.pk, clock=lambda: now)

    assert ended(bring) == (State.DONE, "2 bookings were made.")
    assert bring.done == bring.total == (0 if one_writes_at_a_time() else 2)
    Work.objects.update(state=State.RUNNING, ended_at=None, lease_until=None)  # killed before it could say so
    Work.objects.update(state=State.ASKED)
    running.do_what_waits(clock=lambda: now, stopping=running.never)
    assert ended(bring) == (State.DONE, "2 bookings were made.")
    assert Booking.objects.count() == 2


def test_cancelled_before_the_writing_nothing_is_made(bring, brought, perpetua, now, monkeypatch):
    look = bringing.look

    def look_and_cancel(*args, **kwargs):
        works.cancel(work=bring, by=perpetua, at=now)
        return look(*args, **kwargs)

    monkeypatch.setattr(bringing, "look", look_and_cancel)

    running.do(bring.pk, clock=lambda: now)

    assert ended(bring) == (State.CANCELLED, "It was left off before it was done. Nothing was made.")
    brought.refresh_from_db()
    assert (Booking.objects.count(), brought.brought_at) == (0, None)


def test_left_off_amid_the_writing_nothing_of_it_stays(brought, perpetua, now, today):
    class Enough(Exception):
        pass

    def after_the_first(done):
        raise Enough

    with pytest.raises(Enough):
        bringing.bring_in(brought=brought, by=perpetua, at=now, today=today, step=after_the_first)

    brought.refresh_from_db()
    assert (Booking.objects.count(), brought.brought_at) == (0, None)


def test_a_process_that_is_to_stop_lays_the_work_down_for_the_next(bring, now):
    running.do(bring.pk, clock=lambda: now, stopping=lambda: True)

    assert ended(bring) == (State.ASKED, "")
    assert Booking.objects.count() == 0


def test_what_cannot_be_done_says_why_and_what_breaks_says_that_it_did(bring, brought, now, monkeypatch, perpetua):
    BroughtFile.objects.all().delete()
    running.do(bring.pk, clock=lambda: now)
    assert ended(bring) == (State.FAILED, "The file is not here any more. Send it again.")

    monkeypatch.setitem(kinds.DOERS, "copy", lambda *_: 1 / 0)
    broken = works.ask(kind="copy", about="x", keys={}, title="Copy", by=perpetua, at=now)
    running.do(broken.pk, clock=lambda: now)
    state, words = ended(broken)
    assert (state, words.startswith("It broke off")) == (State.FAILED, True)


def test_a_copy_is_the_file_that_the_page_would_have_given(agreed_booking, perpetua, season, now):
    keys = {"season": season.pk, "kind": "csv"}
    work = works.ask(kind="copy", about="x", keys=keys, title="Copy", by=perpetua, at=now)

    running.do(work.pk, clock=lambda: now)

    assert ended(work) == (State.DONE, "The file has 1 booking.")
    made = WorkFile.objects.get()
    assert made.name == "autumn-2027-2027-09-01.csv"
    assert bytes(made.data) == copies.as_csv(copies.to_copy(season), Names())


def test_each_waiting_work_is_rung_for_by_its_key(bring, monkeypatch):
    rung = []
    monkeypatch.setattr(tasks.report_work, "apply_async", lambda args, expires: rung.append(args))

    tasks.share_out_what_waits()

    assert rung == [(str(bring.pk),)]


def test_a_backup_says_where_it_is_or_why_there_is_none(perpetua, now, monkeypatch, settings, tmp_path):
    settings.DATA = tmp_path
    said = [KeepingRefused("There is no scheme yet."), Backup(now, now, "/there/kitshare.zip", 2_500_000, 1, 0, 0)]

    def make_backup(*, to, at, clock, portable):
        assert (to, portable) == (tmp_path / "backups", connection.vendor == "postgresql")
        if isinstance(told := said.pop(0), Exception):
            raise told
        return told

    monkeypatch.setattr(kinds, "make_backup", make_backup)
    monkeypatch.setattr(postgresql, "PLACES", tmp_path)  # as in our image: no program of PostgreSQL
    monkeypatch.setenv("PATH", str(tmp_path))
    for expected in ((State.FAILED, "There is no scheme yet."), (State.DONE, "kitshare.zip, 2.5 MB")):
        work = works.ask(kind="backup", about="site", keys={}, title="Backup", by=perpetua, at=now)
        running.do(work.pk, clock=lambda: now)
        state, words = ended(work)
        assert (state, words.startswith(expected[1])) == (expected[0], True)
