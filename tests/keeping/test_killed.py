"""A restore into PostgreSQL whose pg_restore is killed, or whose caller is: the next one is whole, or says why not."""

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Thread

import psycopg
import pytest
from django.core.files.storage import default_storage
from django.db import connection

from kitshare.keeping.checks import no_restore_is_under_way
from kitshare.keeping.facts import holds_photos
from kitshare.keeping.postgresql import is_being_filled
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import begun_file, restore
from tests.keeping.places import every_line, every_photo, on_postgresql
from tests.keeping.test_restoring import AT, back_up, site
from tests.outbox.post_office import ROOT, wait_until, without_kitshare

__all__ = ["site"]


@contextmanager
def in_the_way(told):
    """Somebody who makes a table of that name in the same database, and does not end: pg_restore waits in its midst."""
    where = {"host": told["HOST"], "port": told["PORT"], "user": told["USER"], "password": told["PASSWORD"]}
    with psycopg.connect(dbname=told["NAME"], **where) as other:
        other.execute("CREATE TABLE kits_part (id integer)")
        yield other
        other.rollback()


def restores(place):
    """The processes of the server that pg_restore talks to, and that wait."""
    with place.connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
            " AND application_name = 'pg_restore' AND wait_event_type = 'Lock'"
        )
        return cursor.fetchone()[0]


def pid_of_pg_restore(database):
    """Found by what it was told."""
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        with suppress(OSError):
            words = one.read_bytes().split(b"\0")
            if words[0].endswith(b"pg_restore") and f"--dbname={database}".encode() in words:
                return int(one.parent.name)
    return None


@pytest.mark.needs_postgresql
def test_pg_restore_and_whoever_called_it_are_killed_and_the_next_restore_is_whole(site, tmp_path, settings, subtests):
    dumped = back_up(tmp_path)
    lines, photos = every_line(connection), every_photo(default_storage)
    settings.DATA = tmp_path / "new"

    with on_postgresql(settings.DATA) as place:
        told = place.connection.settings_dict

        with subtests.test("pg_restore itself: told in words, and the place is as empty as it was"), in_the_way(told):
            killer = Thread(target=lambda: kill_when_there(told["NAME"]))
            killer.start()
            with pytest.raises(KeepingRefused, match="pg_restore was killed"):
                restore(file=dumped, at=AT, place=place)
            killer.join()
        assert not begun_file().exists()
        assert not holds_photos(place.storage)

        url = f"postgres://{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT']}/{told['NAME']}"
        env = without_kitshare() | {"DATABASE_URL": url, "KITSHARE_DATA": str(settings.DATA)}
        with in_the_way(told):
            caller = subprocess.Popen(
                [sys.executable, "manage.py", "restore", str(dumped)], cwd=ROOT, env=env, stderr=subprocess.DEVNULL
            )
            assert wait_until(lambda: restores(place) == 1)
            caller.kill()
            caller.wait()
            with subtests.test("whoever called it: the site does not start"):
                assert "half filled" in no_restore_is_under_way()[0].msg
            with (
                subtests.test("its pg_restore goes on alone, and meanwhile no other begins"),
                pytest.raises(KeepingRefused, match="A pg_restore still writes into this database: wait until"),
            ):
                restore(file=dumped, at=AT, place=place)
        assert wait_until(lambda: not is_being_filled(place.connection))

        restore(file=dumped, at=AT, place=place)

        assert no_restore_is_under_way() == []
        assert every_line(place.connection) == lines
        assert every_photo(place.storage) == photos


def kill_when_there(database):
    """A moment after it began: by then it waits in the midst of its work."""
    assert wait_until(lambda: pid_of_pg_restore(database))
    time.sleep(1)
    os.kill(pid_of_pg_restore(database), signal.SIGKILL)
