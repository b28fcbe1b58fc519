import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from django.core import checks as django_checks
from django.db import connection, connections

from kitshare.engine import journal_mode
from kitshare.serving import checks
from tests.outbox.post_office import without_kitshare

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("version", "mode"),
    [((3, 40, 1), "TRUNCATE"), ((3, 51, 2), "TRUNCATE"), ((3, 51, 3), "WAL"), ((4, 0, 0), "WAL")],
)
def test_the_journal_mode_goes_by_the_version(version, mode):
    assert journal_mode(version) == mode


def test_a_file_really_runs_in_that_mode_and_the_check_says_so(tmp_path):
    """In a process of its own: the tests' own database is in memory, and has no journal."""
    env = without_kitshare() | {"KITSHARE_DATA": str(tmp_path)}
    words = [sys.executable, "manage.py", "check", "--database", "default"]

    done = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, text=True, check=False)

    assert done.returncode == 0
    mode = journal_mode(sqlite3.sqlite_version_info)
    assert f"SQLite {sqlite3.sqlite_version} runs in journal mode {mode}:" in done.stderr


def test_another_journal_mode_is_an_error():
    found = checks._said("DELETE")

    assert isinstance(found, django_checks.Error)
    assert "journal mode DELETE instead of" in found.msg


@pytest.mark.django_db
def test_a_database_that_does_not_wait_for_the_disk_is_an_error(monkeypatch):
    if connection.vendor != "sqlite":
        assert checks.sqlite_keeps_its_promises(databases=["default"]) == []
        return
    assert [found.id for found in checks.sqlite_keeps_its_promises(databases=["default"])] == ["kitshare.I001"]

    monkeypatch.setattr(checks, "FULL", 1)
    # On the connection itself: undone on the proxy, the attribute would be gone for every test that follows.
    monkeypatch.setattr(connections["default"], "transaction_mode", "DEFERRED")

    found = [one.id for one in checks.sqlite_keeps_its_promises(databases=["default"])]
    assert found == ["kitshare.I001", "kitshare.E002", "kitshare.E003"]
