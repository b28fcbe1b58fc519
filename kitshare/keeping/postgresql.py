"""PostgreSQL: what its own programs write from one snapshot, and read back in one transaction."""

import os
import shutil
import subprocess
from pathlib import Path
from typing import Final

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.postgresql.client import DatabaseClient
from django.utils.translation import gettext as _

from kitshare.keeping.facts import LEFT_OUT, tables
from kitshare.keeping.refusals import KeepingRefused

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


def clear(connection: BaseDatabaseWrapper) -> None:
    """Take away the empty tables that migrating made, so that those of a dump have room."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for table in tables(connection):
            cursor.execute(f"DROP TABLE {connection.ops.quote_name(table)} CASCADE")


def _run(connection: BaseDatabaseWrapper, program: str, *words: str, file: Path | None = None) -> None:
    told, environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    *where, database = told[1:]
    words = (*words, *where, f"--dbname={database}", *([str(file)] if file else []))
    done = subprocess.run(  # noqa: S603
        [program, *words], env={**os.environ, **(environment or {})}, capture_output=True, text=True, check=False
    )
    if done.returncode:
        said = next((line for line in done.stderr.splitlines() if "error" in line), done.stderr.strip()[-300:])
        raise KeepingRefused(_("PostgreSQL refused: %(said)s") % {"said": said})
