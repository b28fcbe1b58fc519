"""A file being brought in when its worker is killed outright: another takes it up, and every booking is made once."""

import json
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, contextmanager, nullcontext
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone

from kitshare.bookings.models import BookedDay, Booking, Season
from kitshare.bringing.models import Telling
from kitshare.engine import journal_mode, readers_go_on
from kitshare.kits.models import Machine, MachineKind
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.people.models import Member
from kitshare.web.bringing.views import AT_ONCE
from kitshare.works import actions as works
from kitshare.works.models import LEASE, State, Work
from tests.bringing.conftest import sent, table
from tests.faults.crew import Crew, environment, ring
from tests.faults.servers import OwnRedis
from tests.outbox.post_office import ROOT, on_another_database, wait_until, without_kitshare

__all__ = ["sent"]

MILLS = 10
OUTINGS = 21
ROWS = MILLS * OUTINGS
LEASE_OF_THE_CREW = 2  # seconds


def a_long_file(first_day) -> bytes:
    """Ten mills, each out for two days in five."""
    return table(
        *(
            {
                "machines": f"Mill {mill}",
                "out_on": str(first_day + timedelta(days=5 * outing)),
                "back_on": str(first_day + timedelta(days=5 * outing + 2)),
            }
            for outing in range(OUTINGS)
            for mill in range(MILLS)
        )
    )


@pytest.fixture
def world(scheme, heron, sorrelhythe, perpetua):
    for number in range(MILLS):
        Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL, position=number + 1)


@pytest.fixture
def asked_for(world, sent, perpetua):
    """A file of more rows than are brought in while the browser waits, and the work that was asked for it."""
    assert ROWS > AT_ONCE

    def ask(day, at) -> Work:
        Season.objects.create(name="The long one", opens_on=day, closes_on=day + timedelta(days=200))
        brought = sent(a_long_file(day + timedelta(days=10)), telling=Telling.BORROWERS)
        keys = {"brought": str(brought.pk)}
        return works.ask(kind="bring_in", about=str(brought.pk), keys=keys, title="Bring in", by=perpetua, at=at)

    return ask


def what_is_there() -> dict[str, int]:
    """How many bookings there are, their days (two and one of care each), lines of the logbook, and letters."""
    return {
        "bookings": Booking.objects.count(),
        "days": BookedDay.objects.count(),
        "lines": Entry.objects.filter(deed="booking_brought_in").count(),
        "letters": Message.objects.count(),
    }


NOTHING = {"bookings": 0, "days": 0, "lines": 0, "letters": 0}
ALL = {"bookings": ROWS, "days": 3 * ROWS, "lines": ROWS, "letters": 1}


def check_what_became_of_it(work: Work, page: str) -> None:
    work.refresh_from_db()
    assert (work.state, work.tries) == (State.DONE, 2)
    assert what_is_there() == ALL
    assert f"{ROWS} bookings were made." in page
    assert "It was begun 2 times" in page


@pytest.fixture
def crew(tmp_path):
    own_redis = OwnRedis(tmp_path)
    env = environment(broker=own_redis.address, folder=tmp_path)
    crew = Crew(env | {"KITSHARE_WORK_LEASE": str(LEASE_OF_THE_CREW)}, tmp_path / "celery.log")
    yield crew
    crew.kill_all()
    own_redis.kill()


@contextmanager
def nobody_writes_into(table_name: str):
    """Whoever would add a row to this table waits until this is over."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"LOCK TABLE {table_name} IN SHARE MODE")
        yield


def somebody_waits_for_a_table() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_locks WHERE NOT granted AND locktype = 'relation'")
        return cursor.fetchone() is not None


@pytest.mark.django_db(transaction=True)
@pytest.mark.needs_redis
@pytest.mark.needs_postgresql
def test_a_worker_killed_amid_a_large_file_is_followed_by_another_and_all_is_made_once(
    crew, asked_for, signed_in, perpetua, subtests
):
    work = asked_for(timezone.localdate(), timezone.now())
    browser = signed_in(perpetua)
    page = f"/works/{work.pk}/"
    first = crew.worker()

    with nobody_writes_into(Entry._meta.db_table):
        ring(crew.env["REDIS_URL"], "works.tasks.share_out_what_waits")
        assert wait_until(somebody_waits_for_a_table)
        said = f"{ROWS} bookings are written, all of them or none."
        with subtests.test("amid it the page says what is done"):
            assert wait_until(lambda: said in browser.get(page).text)
        crew.kill(first)

    with subtests.test("nothing of it is left, and its lease keeps others away for a moment"):
        assert what_is_there() == NOTHING
        work.refresh_from_db()
        assert (work.state, work.tries) == (State.RUNNING, 1)

    crew.worker()

    def is_over() -> bool:
        ring(crew.env["REDIS_URL"], "works.tasks.share_out_what_waits")
        time.sleep(0.5)
        return not Work.objects.get().is_open

    assert wait_until(is_over)
    check_what_became_of_it(work, browser.get(page).text)


# What the loop of an embedded site does, in a process of its own: with a word "stall" it stops amid the lines of the logbook.
DO = """
import json, sys, time
from datetime import datetime
import django
django.setup()
from kitshare.logbook import actions as logbook
from kitshare.works import running
told = json.loads(sys.argv[1])
write = logbook.write
lines = []
def stall(**line):
    lines.append(write(**line))
    if len(lines) == told["stall"]:
        print("amid", flush=True)
        time.sleep(60)
if told["stall"]:
    logbook.write = stall
running.do_what_waits(clock=lambda: datetime.fromisoformat(told["now"]), stopping=running.never)
"""


def does(folder, **told) -> "subprocess.Popen[str]":
    env = without_kitshare() | {"KITSHARE_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "kitshare.settings"}
    command = [sys.executable, "-c", DO, json.dumps(told)]
    return subprocess.Popen(command, cwd=ROOT, env=env | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, text=True)


@pytest.mark.one_engine
@pytest.mark.skipif(connection.vendor != "sqlite", reason="copies the data of the test into a file")
@pytest.mark.django_db(transaction=True)
def test_where_one_writes_at_a_time_the_page_claims_no_progress_and_a_killed_loop_is_followed_by_another(
    asked_for, perpetua, client, now, today, tmp_path, subtests
):
    work = asked_for(today, now)
    (tmp_path / "static").mkdir()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(tmp_path / "kitshare.sqlite3")])

    with on_another_database(NAME=str(tmp_path / "kitshare.sqlite3")):
        client.force_login(Member.objects.get(pk=perpetua.pk))
        page = f"/works/{work.pk}/"
        with does(tmp_path, stall=ROWS // 2, now=now.isoformat()) as killed:
            assert killed.stdout.readline() == "amid\n"
            amid = client.get(page).text
            killed.send_signal(signal.SIGKILL)

        with subtests.test("amid it words stand in the place of a bar"):
            assert f"{ROWS} bookings are written now, all of them or none. Nobody else can write" in amid
            assert '<progress id="how-far"></progress>' in amid  # without a value it moves, and says nothing of how far
        with subtests.test("nothing of it is left"):
            assert (Work.objects.get().state, what_is_there()) == (State.RUNNING, NOTHING)

        with does(tmp_path, stall=0, now=(now + 2 * LEASE).isoformat()) as next_one:
            next_one.communicate(timeout=60)
        check_what_became_of_it(work, client.get(page).text)


@pytest.mark.one_engine
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the engine of the run on SQLite")
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("they_go_on", [True, False])
def test_while_a_long_transaction_writes_others_read_only_where_it_keeps_to_its_memory(tmp_path, they_go_on):
    """SQLite's manual, "PRAGMA cache_spill" and "File Locking And Concurrency", 3 and 5.1: a spill needs the file alone."""
    file = tmp_path / "kitshare.sqlite3"
    with closing(sqlite3.connect(file)) as before:
        before.execute("CREATE TABLE filler (what)")

    with (
        on_another_database(NAME=str(file)) as writing,
        readers_go_on() if they_go_on else nullcontext(),
        transaction.atomic(),
        writing.cursor() as cursor,
        closing(sqlite3.connect(file, timeout=0)) as reading,
    ):
        for _row in range(4_000):
            cursor.execute("INSERT INTO filler VALUES (zeroblob(3000))")
        try:
            seen = reading.execute("SELECT count(*) FROM filler").fetchall()
        except sqlite3.OperationalError as error:
            seen = str(error)

    with_a_log = journal_mode(sqlite3.sqlite_version_info) == "WAL"  # then nobody ever waits
    assert seen == ([(0,)] if they_go_on or with_a_log else "database is locked")
