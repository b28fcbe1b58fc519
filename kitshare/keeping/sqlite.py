"""SQLite: a copy of the whole database in one step while others write, and putting one in its place in one step."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler
from django.utils.translation import gettext as _

from kitshare.keeping.facts import LEFT_OUT, migrations, rows_of_all
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.refusals import KeepingRefused

BESIDE: Final = "beside"
SECONDS_TO_WAIT: Final = 20
TRIES: Final = 3


@contextmanager
def beside(file: Path) -> Iterator[BaseDatabaseWrapper]:
    """A database in a file of its own, under the alias BESIDE, next to the one on which the site runs."""
    told: dict[str, Any] = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(file)}
    connection = ConnectionHandler({"default": told})["default"]
    connection.alias = BESIDE
    connections[BESIDE] = connection
    try:
        yield connection
    finally:
        connection.close()
        del connections[BESIDE]


def copy_out(connection: BaseDatabaseWrapper, file: Path) -> None:
    """All of the database as it was at one moment, without what does not travel. Others go on writing."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(file)])
    with closing(sqlite3.connect(file, isolation_level=None)) as copy:
        # Without it a session that was left out could still be read from the page on which it lay.
        copy.execute("PRAGMA secure_delete = ON")
        there = {name for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        for table in there & set(LEFT_OUT):
            copy.execute(f'DELETE FROM "{table}"')  # noqa: S608
        copy.execute("VACUUM")


def check_copy(file: Path, manifest: Manifest) -> None:
    """Refuse a database that is not what the manifest says, or that would do something by itself when it is opened."""
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as copy:
            copy.execute("PRAGMA trusted_schema = OFF")
            kinds = {kind for (kind,) in copy.execute("SELECT DISTINCT type FROM sqlite_master")}
            sound = copy.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",)
        if kinds - {"table", "index"} or not sound:
            raise KeepingRefused(_("The database in the file is not one that Kitshare made."))
        with beside(file) as connection:
            there, steps = rows_of_all(connection), migrations(connection)
    except sqlite3.Error as wrong:
        raise KeepingRefused(_("The database in the file cannot be read.")) from wrong
    # By what the file says, not by what is left out now: that may have been another list when the file was made.
    rows = {table: number for table, number in there.items() if number or table in manifest.rows}
    if (rows, steps) != (manifest.rows, sorted(manifest.migrations)):
        raise KeepingRefused(_("The database in the file has other rows than the file says of itself."))


def migrate(file: Path) -> None:
    """Take the steps that a database lacks, or all of them in a new one.

    In a process of its own, for which it is the only database: a step that moves rows must find no other.
    """
    words = [sys.executable, str(settings.ROOT / "manage.py"), "migrate", "--skip-checks", "--verbosity", "0"]
    environment = {**os.environ, "DATABASE_URL": f"sqlite:///{quote(str(file))}", "KITSHARE_DATA": str(file.parent)}
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["?"])[-1]
        raise KeepingRefused(_("The database could not be brought to this version: %(said)s") % {"said": said})


def put_in_place(file: Path, connection: BaseDatabaseWrapper) -> None:
    """Fill an empty database wholly or not at all: a process that dies in between leaves it as it was."""
    connection.close()
    tries = 0

    def count(_status: int, left: int, _all: int) -> None:
        nonlocal tries
        tries += 1
        if left and tries >= TRIES:
            raise KeepingRefused(_("The database is in use: stop the site, then start again."))

    place = str(connection.settings_dict["NAME"])
    with (
        closing(sqlite3.connect(file)) as source,
        closing(sqlite3.connect(place, timeout=SECONDS_TO_WAIT, uri=place.startswith("file:"))) as target,
    ):
        source.backup(target, progress=count)
