"""A backup is tried beside the site, which it never touches, and nothing of the try stays."""

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.db import connection

from kitshare.keeping import rehearsing
from kitshare.keeping.archive import Writer
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.places import BEGUN, LOCK
from kitshare.keeping.postgresql import beside, check_may_create, tries_of
from kitshare.keeping.reading_back import CameBack, read_back
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.rehearsing import check_can_try, rehearse
from kitshare.keeping.restoring import restore
from kitshare.kits.models import Part
from tests.keeping.places import on_sqlite
from tests.keeping.test_restoring import AT, PICTURES, back_up, site  # noqa: F401  one is a fixture
from tests.serving.test_serve import is_alive, wait_for

ROOT = Path(__file__).resolve().parents[2]
BACK = CameBack(AT, "0.1.0", "sqlite", {"kits_part": 3}, {"kits_part": 3}, 3, 0, 0)


def nobody(*_: object) -> None:
    """Hears how far it is, and goes on."""


def left_behind(settings) -> list[str]:
    """Folders and databases of tries."""
    found = [one.name for one in settings.DATA.glob(f"{BEGUN}*")]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [tries_of(connection)])
            found += [name for (name,) in cursor.fetchall()]
    return found


def empty_backup(place, **told) -> Path:
    """A whole file that says of itself what it is told to; in it is no database."""
    engine = told.get("engine", "sqlite")
    with Writer(place) as writer:
        writer.add("database.sqlite3" if engine == "sqlite" else "database.dump", io.BytesIO(b"rows"))
        writer.add("settings.json", io.BytesIO(b"{}"))
        facts = {"made_at": AT, "engine": engine, "rows": {}, "migrations": [], "contents": writer.contents}
        writer.finish(Manifest(**facts | told))
    return place


def test_left_off_in_between_nothing_stays(site, settings):  # noqa: F811
    class Enough(Exception):
        pass

    def enough() -> None:
        assert len(left_behind(settings)) == (2 if connection.vendor == "postgresql" else 1)
        raise Enough

    with pytest.raises(Enough):
        rehearse(file=back_up(site), tell=nobody, go_on=enough)

    assert left_behind(settings) == []
    assert Part.objects.count() >= len(PICTURES)


def test_what_a_killed_try_left_is_swept_by_the_next(site, settings, monkeypatch):  # noqa: F811
    left = settings.DATA / f"{BEGUN}left"
    (left / "place/photos").mkdir(parents=True)
    (left / LOCK).touch()
    if connection.vendor == "postgresql":
        with beside(connection) as name, connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name[:-4]}dead TEMPLATE template0")
        assert left_behind(settings) == [left.name, f"{name[:-4]}dead"]
    seen = []
    monkeypatch.setattr(rehearsing, "_in_a_process", lambda *_, **__: seen.append(left.exists()) or BACK)

    assert rehearse(file=back_up(site), tell=nobody, go_on=nobody) == BACK

    assert seen == [False]
    assert left_behind(settings) == []


@pytest.mark.one_engine
def test_a_damaged_file_is_refused_in_words_by_the_same_code_as_the_command(site, settings):  # noqa: F811
    file = back_up(site)
    damaged = bytearray(file.read_bytes())
    damaged[len(damaged) // 2] ^= 1
    file.write_bytes(damaged)

    with pytest.raises(KeepingRefused, match="is damaged: something in it changed after it was made"):
        rehearse(file=file, tell=nobody, go_on=nobody)

    assert left_behind(settings) == []


@pytest.mark.one_engine
def test_what_can_be_known_beforehand_is_refused_before_anything_begins(db, settings, tmp_path, monkeypatch):
    settings.DATA = tmp_path
    newer = empty_backup(tmp_path / "newer.zip", migrations=[("kits", "9999_of_another_time")])
    whole = empty_backup(tmp_path / "whole.zip")
    (tmp_path / "other.zip").write_bytes(b"PK\x05\x06" + b"\0" * 200)

    for file, words in (
        (newer, r"made by a newer Kitshare \(this one does not know kits\.9999_of_another_time\)"),
        (tmp_path / "other.zip", "no backup that Kitshare made"),
        (tmp_path / "gone.zip", "gone.zip"),
    ):
        with pytest.raises(KeepingRefused, match=words):
            check_can_try(file)
    with pytest.raises(KeepingRefused, match="has a dump of PostgreSQL, and this place keeps SQLite"):
        check_can_try(empty_backup(tmp_path / "dump.zip", engine="postgresql"))
    with pytest.raises(KeepingRefused, match="so none that is sent in is tried"):
        check_can_try(tmp_path / "dump.zip", is_sent=True)
    assert check_can_try(whole).made_at == AT
    monkeypatch.setattr(rehearsing, "ROOM_FOR_THE_SITE", 10**18)
    with pytest.raises(KeepingRefused, match="free some room, then try it again"):
        check_can_try(whole)


@pytest.mark.needs_postgresql
def test_a_role_that_may_not_create_a_database_is_told_how_it_may(transactional_db):
    with connection.cursor() as cursor:
        cursor.execute("CREATE ROLE tries_nothing")
        try:
            cursor.execute("SET ROLE tries_nothing")
            with pytest.raises(KeepingRefused) as refused:
                check_may_create(connection)
        finally:
            cursor.execute("RESET ROLE")
            cursor.execute("DROP ROLE tries_nothing")

    assert "the role tries_nothing may not create one" in str(refused.value)
    assert 'ALTER ROLE "tries_nothing" CREATEDB;' in str(refused.value)


@pytest.mark.one_engine
def test_the_process_of_its_own_knows_nothing_of_the_site(tmp_path, monkeypatch):
    kept_from_it = {"REDIS_URL", "EMAIL_URL", "KITSHARE_PHOTOS_S3", "KITSHARE_PHOTOS_S3_SECRET"}
    for name in (*kept_from_it, "DATABASE_URL", "KITSHARE_DATA"):
        monkeypatch.setenv(name, "the site's own")
    started = {}

    def start(words, *, env, **_):
        started.update(env)
        raise OSError

    monkeypatch.setattr(subprocess, "Popen", start)
    with pytest.raises(OSError):  # noqa: PT011
        rehearsing._in_a_process(tmp_path / "x.zip", tmp_path, "sqlite:////x", tell=nobody, go_on=nobody)

    assert not kept_from_it & started.keys()
    assert (started["DATABASE_URL"], started["KITSHARE_DATA"]) == ("sqlite:////x", str(tmp_path / "place"))
    assert "the site's own" not in started.values()


@pytest.mark.one_engine
def test_it_ends_with_whoever_started_it_and_takes_what_it_started_along(tmp_path):
    """Told by the end of its input, as after a kill -9."""
    begun = "import subprocess, time; from kitshare.keeping.management.commands.restore import _end_with_the_input"
    started = "child = subprocess.Popen(['sleep', '60']); print(child.pid, flush=True)"
    words = [sys.executable, "-c", f"{begun}; _end_with_the_input(); {started}; time.sleep(60)"]
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "kitshare.settings", "KITSHARE_DATA": str(tmp_path)}
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(words, cwd=ROOT, env=env, start_new_session=True, **pipes) as process:
        its_own = int(process.stdout.readline())
        os.kill(its_own, 0)
        process.stdin.close()

        assert process.wait(timeout=20) == -signal.SIGKILL
    assert wait_for(lambda: not is_alive(its_own))


@pytest.mark.one_engine
def test_what_did_not_come_back_as_it_was_is_named(site):  # noqa: F811
    file = back_up(site)
    with on_sqlite(site / "new") as place:
        done = restore(file=file, at=AT, place=place)

        back = read_back(done, place=place)
        assert (back.photos, back.steps, back.told == back.back) == (3, 0, True)
        assert back.back["kits_part"] == Part.objects.count()
        assert CameBack.of(json.loads(back.as_line())) == back

        place.storage.delete(PICTURES[1])
        with pytest.raises(KeepingRefused, match=r"The photo parts/b\.jpg did not come back as it was"):
            read_back(done, place=place)
        place.storage.save(PICTURES[1], ContentFile(b"another"))
        with pytest.raises(KeepingRefused, match=r"The photo parts/b\.jpg did not come back as it was"):
            read_back(done, place=place)
        Part.objects.using(place.alias).filter(name=PICTURES[0]).delete()
        with pytest.raises(KeepingRefused, match=r"Of kits_part \d+ rows came back, and the file says \d+"):
            read_back(done, place=place)
