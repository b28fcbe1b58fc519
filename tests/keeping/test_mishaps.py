"""What a disk or a database may answer with is one sentence, and nothing half is left behind."""

import errno
import os
import shutil
import sqlite3
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.utils import timezone

from kitshare.keeping import postgresql
from kitshare.keeping.making import make_backup
from kitshare.keeping.record import last_backup
from kitshare.keeping.refusals import KeepingRefused, in_words
from kitshare.kits.models import Part

AT = datetime(2027, 10, 30, 23, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("mishap", "words"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "There is no room left in"),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), "There is no room left in"),
        (sqlite3.OperationalError("database or disk is full"), "There is no room left in"),
        (PermissionError(errno.EACCES, "Permission denied"), "cannot be read or written by this user"),
        (OSError(errno.EROFS, "Read-only file system"), "cannot be read or written by this user"),
        (OperationalError("unable to open database: /there"), "cannot be read or written by this user"),
        (OperationalError("connection refused\n\tIs the server running?"), "connection refused Is the server running?"),
    ],
)
def test_each_is_one_sentence_that_names_the_place(mishap, words):
    said = str(in_words(mishap, Path("/there")))

    assert words in said
    assert "/there" in said
    assert "\n" not in said


@pytest.fixture
def small_disk(tmp_path):
    """A disk of one megabyte, where this machine lets us make one."""
    folder = tmp_path / "small"
    folder.mkdir()
    if (
        not shutil.which("mount")
        or subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(folder)], check=False, capture_output=True
        ).returncode
    ):
        pytest.skip("may not mount a small disk here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def site(transactional_db, settings, tmp_path, mill):
    settings.DATA = tmp_path
    default_storage.save("parts/a.jpg", ContentFile(os.urandom(1_200_000)))
    Part.objects.create(machine=mill, name="Hopper", picture="parts/a.jpg")


@pytest.mark.one_engine
def test_a_disk_that_fills_leaves_nothing_and_the_one_before_stays_the_last(site, small_disk, tmp_path):
    before = make_backup(to=tmp_path, at=AT, clock=timezone.now)

    with pytest.raises(CommandError, match="There is no room left in"):
        call_command("backup", "--to", str(small_disk))

    assert list(small_disk.iterdir()) == []
    assert last_backup() == before


@pytest.mark.one_engine
def test_a_site_without_its_database_is_told_of_in_one_sentence(site, monkeypatch, tmp_path):
    def refuse(*_: object) -> None:
        raise OperationalError("no such table: kits_part\nLINE 1")

    monkeypatch.setattr("kitshare.keeping.sqlite.copy_out", refuse)

    with pytest.raises(CommandError) as refused:
        call_command("backup", "--to", str(tmp_path))

    assert str(refused.value).endswith("no such table: kits_part LINE 1")
    assert not list(tmp_path.glob("*kitshare*"))


def test_without_the_programs_of_postgresql_the_way_without_them_is_named(monkeypatch, tmp_path):
    monkeypatch.setattr(postgresql, "PLACES", tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))

    with pytest.raises(KeepingRefused, match=r"pg_dump of PostgreSQL 17 is not on this machine.*--portable"):
        postgresql.find("pg_dump", 17)


def test_the_program_of_the_servers_own_version_goes_first_and_a_newer_before_none(monkeypatch, tmp_path):
    monkeypatch.setattr(postgresql, "PLACES", tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    for version in ("9", "15", "17", "18"):
        place = tmp_path / version / "bin" / "pg_dump"
        place.parent.mkdir(parents=True)
        place.write_text("#!/bin/sh\n")
        place.chmod(0o755)

    assert postgresql.find("pg_dump", 17) == str(tmp_path / "17/bin/pg_dump")
    assert postgresql.find("pg_dump", 16) == str(tmp_path / "18/bin/pg_dump")
    with pytest.raises(KeepingRefused):
        postgresql.find("pg_dump", 19)
