"""Makes a backup while the site runs: the database as it was at one moment, and every photo that a row of it names."""

import io
import json
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.core.files.storage import Storage, default_storage
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.translation import gettext as _

from kitshare.keeping import facts, moving, places, postgresql, record, sqlite
from kitshare.keeping import manifest as manifests
from kitshare.keeping.archive import Writer, verify
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.refusals import MISHAPS, KeepingRefused, in_words

# What may be read by whoever finds a backup. Of everything else that was set, the name alone is kept.
NO_SECRETS: Final = ("KITSHARE_ADDRESS", "KITSHARE_HOSTS", "KITSHARE_MAIL_FROM")
SETTINGS_OF_OURS: Final = re.compile(r"KITSHARE_\w+|DATABASE_URL|EMAIL_URL|REDIS_URL")


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The database at one moment, in a file, and what was true of it then."""

    engine: str
    file: Path
    rows: dict[str, int]
    migrations: list[tuple[str, str]]
    photos: list[str]


def make_backup(
    *,
    to: Path,
    at: datetime,
    clock: Callable[[], datetime],
    portable: bool = False,
    alias: str = "default",
    storage: Storage = default_storage,
) -> record.Backup:
    """One whole file, or a refusal and nothing."""
    file = places.place_for(to, at)
    try:
        with places.work_beside(file.parent) as work:
            whole = work / file.name
            snapshot = _snapshot(connections[alias], work, portable=portable)
            _check_filled(snapshot)
            _write(whole, snapshot, at=at, storage=storage)
            checked = verify(whole)  # read back from the disk: what cannot be read is no backup
            checked.close()
            places.put(whole, file)
    except MISHAPS as mishap:
        raise in_words(mishap, file.parent) from mishap
    made = record.Backup(
        made_at=at,
        checked_at=clock(),
        place=str(file),
        size_bytes=file.stat().st_size,
        rows=sum(checked.manifest.rows.values()),
        photos=len(checked.manifest.photos),
        photos_missing=len(checked.manifest.photos_missing),
    )
    record.note(made)
    return made


def _check_filled(snapshot: Snapshot) -> None:
    """Whoever runs this without the site's settings would keep fourteen copies of nothing, and be content."""
    if not any(rows for table, rows in snapshot.rows.items() if table not in facts.BY_ITSELF):
        raise KeepingRefused(
            _("There is nothing in this database: are KITSHARE_DATA and DATABASE_URL set as they are for the site?")
        )


def _snapshot(connection: BaseDatabaseWrapper, work: Path, *, portable: bool) -> Snapshot:
    if connection.vendor == "sqlite":
        file = work / manifests.DATABASES["sqlite"]
        sqlite.copy_out(connection, file)
        return _told_by_copy(file)
    if portable:
        return _moved_to_sqlite(connection, work)
    program = postgresql.find("pg_dump", postgresql.version(connection))
    file = work / manifests.DATABASES["postgresql"]
    with transaction.atomic(using=connection.alias, durable=True):
        seen = postgresql.snapshot(connection)
        postgresql.dump(connection, file, seen=seen, program=program)
        return _told("postgresql", file, connection)


def _moved_to_sqlite(connection: BaseDatabaseWrapper, work: Path) -> Snapshot:
    """What PostgreSQL holds, as a database of SQLite: it can be restored on either."""
    file = work / manifests.DATABASES["sqlite"]
    sqlite.migrate(file)
    with sqlite.beside(file) as copy, transaction.atomic(using=connection.alias, durable=True):
        postgresql.snapshot(connection)
        if facts.migrations(copy) != facts.migrations(connection):
            raise KeepingRefused(_("The database has not the version of the code: run manage.py migrate first."))
        moving.move(connection, copy)
    return _told_by_copy(file)


def _told_by_copy(file: Path) -> Snapshot:
    with sqlite.beside(file) as copy:
        return _told("sqlite", file, copy)


def _told(engine: str, file: Path, connection: BaseDatabaseWrapper) -> Snapshot:
    return Snapshot(
        engine=engine,
        file=file,
        rows=facts.rows_by_table(connection),
        migrations=facts.migrations(connection),
        photos=facts.photos_named(connection),
    )


def _write(whole: Path, snapshot: Snapshot, *, at: datetime, storage: Storage) -> None:
    with Writer(whole) as writer:
        whole.chmod(0o600)  # names, telephone numbers and hashes of passwords are in it
        with snapshot.file.open("rb") as stream:
            writer.add(manifests.DATABASES[snapshot.engine], stream)
        snapshot.file.unlink()
        writer.add(manifests.SETTINGS, io.BytesIO(json.dumps(settings_without_secrets(), indent=1).encode()))
        missing = [name for name in snapshot.photos if not _add_photo(writer, name, storage)]
        writer.finish(
            Manifest(
                made_at=at,
                engine=snapshot.engine,
                rows=snapshot.rows,
                migrations=snapshot.migrations,
                contents=writer.contents,
                photos_missing=missing,
                project=manifests.project_version(),
            )
        )


def _add_photo(writer: Writer, name: str, storage: Storage) -> bool:
    """Put a photo in the file; False if it is not there. It is read whole first: it may go while it is read."""
    try:
        with storage.open(name) as stream:
            photo = stream.read()
    except FileNotFoundError:
        return False
    except Exception as wrong:  # each kind of storage has errors of its own, and none may pass for a photo that is gone
        raise KeepingRefused(
            _("The photo %(name)s could not be read: %(wrong)s") % {"name": name, "wrong": wrong}
        ) from wrong
    writer.add(manifests.PHOTOS + name, io.BytesIO(photo))
    return True


def settings_without_secrets() -> dict[str, Any]:
    """What was set in the environment: values where nobody can do harm with them, else names."""
    named = sorted(name for name in os.environ if SETTINGS_OF_OURS.fullmatch(name) and os.environ[name])
    return {
        "values": {name: os.environ[name] for name in named if name in NO_SECRETS},
        "kept_out": [name for name in named if name not in NO_SECRETS],
    }
