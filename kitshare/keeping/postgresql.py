"""PostgreSQL: what its own programs write from one snapshot, and read back in one transaction."""

import hashlib
import logging
import os
import secrets
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from django.db import DatabaseError, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.postgresql.client import DatabaseClient
from django.utils.translation import gettext as _

from kitshare.keeping.facts import LEFT_OUT, tables
from kitshare.keeping.refusals import KeepingRefused

log = logging.getLogger("kitshare.keeping")

# How databases begin in which backups are tried; what follows says of which site, and which try.
TRIED: Final = "kitshare_tried_"

# Where Debian and its like keep the programs of each version.
PLACES: Final = Path("/usr/lib/postgresql")


def find(program: str, server: int) -> str:
    """The program, of the server's version if it is here: an older refuses, a newer may write what it cannot read."""
    versions = sorted((int(one.name) for one in PLACES.glob("*") if one.name.isdigit()), reverse=True)
    wanted = [PLACES / str(server) / "bin" / program]
    named = shutil.which(program)
    wanted += [Path(named)] if named else []
    wanted += [PLACES / str(version) / "bin" / program for version in versions if version > server]
    for one in wanted:
        if os.access(one, os.X_OK):
            return str(one)
    raise KeepingRefused(
        _(
            "The program %(program)s of PostgreSQL %(server)s is not on this machine: install its client programs, or "
            "make backups with --portable."
        )
        % {"program": program, "server": server}
    )


def may_dump(connection: BaseDatabaseWrapper) -> bool:
    """Whether the program for it is on this machine."""
    try:
        find("pg_dump", version(connection))
    except KeepingRefused:
        return False
    return True


def version(connection: BaseDatabaseWrapper) -> int:
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        return int(cursor.fetchone()[0]) // 10_000


def snapshot(connection: BaseDatabaseWrapper) -> str:
    """Within a transaction that has asked nothing yet: from here on it sees one moment, and others may see the same."""
    with connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        return str(cursor.fetchone()[0])


def dump(connection: BaseDatabaseWrapper, file: Path, *, seen: str, program: str) -> None:
    """Everything that a snapshot sees, without what does not travel."""
    quoted = [connection.ops.quote_name(table) for table in tables(connection)]
    left_out = [connection.ops.quote_name(table) for table in LEFT_OUT]
    words = ["--format=custom", "--no-owner", "--no-privileges", f"--snapshot={seen}", f"--file={file}"]
    words += [f"--table={table}" for table in quoted] + [f"--exclude-table-data={table}" for table in left_out]
    _run(connection, program, *words)


def restore(connection: BaseDatabaseWrapper, file: Path, *, program: str) -> None:
    """Fill the database from a dump: all of it or nothing."""
    _run(connection, program, "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error", file=file)


def is_being_filled(connection: BaseDatabaseWrapper) -> bool:
    """Whether a `pg_restore` works on it, such as one whose `manage.py restore` was killed: it goes on by itself."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND application_name = 'pg_restore'"
        )
        return cursor.fetchone() is not None


def clear(connection: BaseDatabaseWrapper) -> None:
    """Take away the empty tables that migrating made, so that those of a dump have room."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for table in tables(connection):
            cursor.execute(f"DROP TABLE {connection.ops.quote_name(table)} CASCADE")


def check_may_create(connection: BaseDatabaseWrapper) -> None:
    """Refuse where the site's role may not make a database beside its own."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolcreatedb OR rolsuper, rolname FROM pg_roles WHERE rolname = current_user")
        may, role = cursor.fetchone()
    if not may:
        raise KeepingRefused(
            _(
                "A backup is tried in a database of its own, and the role %(role)s may not create one. Whoever runs "
                "PostgreSQL gives it the right, as its superuser: ALTER ROLE %(quoted)s CREATEDB;"
            )
            % {"role": role, "quoted": connection.ops.quote_name(role)}
        )


def tries_of(connection: BaseDatabaseWrapper) -> str:
    """How the databases begin in which backups of this site are tried."""
    return f"{TRIED}{hashlib.sha256(str(connection.settings_dict['NAME']).encode()).hexdigest()[:8]}_"


@contextmanager
def beside(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """The name of an empty database beside the site's, which is gone at the end however that comes.

    What a killed process left behind is known by its name, and swept by the next.
    """
    check_may_create(connection)
    ours = tries_of(connection)
    with connection.cursor() as cursor:
        cursor.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [ours])
        for (left,) in cursor.fetchall():
            _drop(connection, left)
        name = f"{ours}{secrets.token_hex(6)}"
        cursor.execute(f"CREATE DATABASE {connection.ops.quote_name(name)} TEMPLATE template0")
    try:
        yield name
    finally:
        try:
            _drop(connection, name)
        except DatabaseError as wrong:  # the next try sweeps it; what is under way here must not be hidden by it
            log.warning("The database %s, in which a backup was tried, could not be dropped: %s", name, wrong)


def _drop(connection: BaseDatabaseWrapper, name: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DROP DATABASE IF EXISTS {connection.ops.quote_name(name)} WITH (FORCE)")


def _run(connection: BaseDatabaseWrapper, program: str, *words: str, file: Path | None = None) -> None:
    told, environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    *where, database = told[1:]
    words = (*words, *where, f"--dbname={database}", *([str(file)] if file else []))
    done = subprocess.run(  # noqa: S603
        [program, *words], env={**os.environ, **(environment or {})}, capture_output=True, text=True, check=False
    )
    if done.returncode < 0:
        killed = {"program": Path(program).name, "signal": -done.returncode}
        raise KeepingRefused(_("%(program)s was killed (signal %(signal)d) before it was done: start again.") % killed)
    if done.returncode:
        said = next((line for line in done.stderr.splitlines() if "error" in line), done.stderr.strip()[-300:])
        raise KeepingRefused(_("PostgreSQL refused: %(said)s") % {"said": said})
