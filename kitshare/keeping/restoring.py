"""Puts a backup into an empty place: all is looked at before anything is touched, and then it is all or nothing.

The database comes last, in one step. Whoever kills it before that leaves photos and a note of what was begun: by it the
same command goes on, and while it is there the site does not start.
"""

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings
from django.core.files import File
from django.core.files.storage import Storage, default_storage
from django.core.management import call_command
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from kitshare.keeping import facts, moving, places, postgresql, sqlite
from kitshare.keeping.archive import Archive, verify
from kitshare.keeping.manifest import PHOTOS, Manifest
from kitshare.keeping.progress import Tell, tell_nobody
from kitshare.keeping.refusals import MISHAPS, KeepingRefused, in_words

BEGUN: Final = "restore-under-way.json"
ROOM_TO_SPARE: Final = 10_000_000


def begun_file() -> Path:
    """The note of a restore that was begun; it is gone when the restore has ended well."""
    return Path(settings.DATA) / BEGUN


@dataclass(frozen=True, slots=True)
class Place:
    """Where a backup is restored to."""

    alias: str = "default"
    storage: Storage = default_storage

    @property
    def connection(self) -> BaseDatabaseWrapper:
        return connections[self.alias]


@contextmanager
def looked_over(file: Path) -> Iterator[Archive]:
    """A backup that is whole and that this code can read."""
    archive = verify(file)
    try:
        check_known(archive.manifest)
        yield archive
    finally:
        archive.close()


def steps_lacking(manifest: Manifest) -> int:
    """How many steps the code has that the file's database has not taken."""
    loader = MigrationLoader(None, replace_migrations=False)
    known = {key for key, step in loader.disk_migrations.items() if not step.replaces}
    taken = set(manifest.migrations)
    for key, step in loader.disk_migrations.items():
        if key in taken:
            taken.update(step.replaces)
    return len(known - taken)


def check_known(manifest: Manifest) -> None:
    unknown = set(manifest.migrations) - set(MigrationLoader(None, replace_migrations=False).disk_migrations)
    if unknown:
        step = ".".join(min(unknown))
        raise KeepingRefused(
            _("The file was made by a newer Kitshare (this one does not know %(step)s): restore it with that one.")
            % {"step": step}
        )


def check_engine(manifest: Manifest, connection: BaseDatabaseWrapper) -> None:
    if manifest.engine != "sqlite" and connection.vendor == "sqlite":
        raise KeepingRefused(
            _("The file has a dump of PostgreSQL, and this place keeps SQLite: make one there with --portable.")
        )


def room_needed(file: Path, manifest: Manifest) -> int:
    """In bytes: all that is in the file, and its database once more, which is looked at beside the place."""
    return file.stat().st_size + manifest.contents[manifest.database].size + ROOM_TO_SPARE


def restore(*, file: Path, at: datetime, place: Place | None = None, tell: Tell = tell_nobody) -> Manifest:
    """Fill an empty place from a backup, or refuse with a sentence. `tell` hears how far it is; it may raise."""
    place = place or Place()
    data = Path(settings.DATA)
    try:
        data.mkdir(parents=True, exist_ok=True)
        tell(_("The file is read, and each sum compared"), 0, 0)
        with looked_over(file) as archive, places.work_beside(data) as work:
            goes_on = _check_place(archive, place)
            tell(_("The database is taken out and looked at"), 0, 0)
            database = _prepare(archive, place, work)
            if not goes_on:
                _begin(archive, at)
            _fill(archive, place, database, again=goes_on, tell=tell)
            begun_file().unlink()
            places.settle(data)
            return archive.manifest
    except MISHAPS as mishap:
        raise in_words(mishap, data) from mishap


def _check_place(archive: Archive, place: Place) -> bool:
    """Whether this goes on with a restore of the same file that was cut short. Refuses a place that holds something."""
    check_engine(archive.manifest, place.connection)
    if place.connection.vendor == "postgresql" and postgresql.is_being_filled(place.connection):
        raise KeepingRefused(
            _("A pg_restore still writes into this database: wait until it is over, then start again.")
        )
    if others := facts.strangers(place.connection):
        raise KeepingRefused(
            _("The database has a table %(table)s that is none of Kitshare's: name one that is empty.")
            % {"table": others[0]}
        )
    goes_on = _was_begun(archive)
    filled = facts.filled_tables(place.connection)
    if filled and not (goes_on and _is_filled_from(archive, place)):
        raise KeepingRefused(
            _("The database is not empty (%(table)s has rows): a backup is restored into an empty one only.")
            % {"table": filled[0]}
        )
    if not goes_on and facts.holds_photos(place.storage):
        raise KeepingRefused(_("There are photos already: a backup is restored into an empty place only."))
    needed = room_needed(archive.file, archive.manifest)
    free = shutil.disk_usage(settings.DATA).free
    if free < needed:
        words = _("%(needed)d MB are needed in %(data)s, and %(free)d MB are free: free some room, then start again.")
        sizes = {"needed": needed // 1_000_000 + 1, "free": free // 1_000_000, "data": settings.DATA}
        raise KeepingRefused(words % sizes)
    return goes_on


def _was_begun(archive: Archive) -> bool:
    try:
        begun = json.loads(begun_file().read_text())
    except FileNotFoundError:
        return False
    except ValueError:
        begun = {}
    if begun.get("seal") == archive.seal:
        return True
    raise KeepingRefused(
        _("The place is half filled from %(file)s: restore that file again, or set the folder %(data)s aside.")
        % {"file": begun.get("file", "?"), "data": settings.DATA}
    )


def _is_filled_from(archive: Archive, place: Place) -> bool:
    """Whether the rows are just those of the file: the database was done, and only what comes after it was not."""
    told, there = archive.manifest.rows, facts.rows_of_all(place.connection)
    return all(there.get(table) == rows for table, rows in told.items() if table not in facts.BY_ITSELF)


def _begin(archive: Archive, at: datetime) -> None:
    told = {"file": str(archive.file), "seal": archive.seal, "begun_at": at.isoformat()}
    begun_file().write_text(json.dumps(told))
    places.settle(begun_file().parent)


def _prepare(archive: Archive, place: Place, work: Path) -> Path:
    """The database out of the file, looked at and brought to this version where that can be done beside the place."""
    database = work / archive.manifest.database
    archive.take_out(archive.manifest.database, database)
    if archive.manifest.engine == "sqlite":
        sqlite.check_copy(database, archive.manifest)
        if steps_lacking(archive.manifest):
            sqlite.migrate(database)
    else:
        postgresql.find("pg_restore", postgresql.version(place.connection))
    return database


def _fill(archive: Archive, place: Place, database: Path, *, again: bool, tell: Tell) -> None:
    saved: list[str] = []
    filled = bool(facts.filled_tables(place.connection))
    with ExitStack() as undo:
        if not filled and not again:  # of what was begun before, only going on knows what is whose
            undo.callback(_undo, place, saved)
        for number, name in enumerate(archive.manifest.photos, start=1):
            if again:
                place.storage.delete(name)
            _put_photo(archive, place.storage, name)
            saved.append(name)
            tell(_("Photos are put in place"), number, len(archive.manifest.photos))
        os.sync()
        if not filled:
            _fill_database(archive, place.connection, database, tell)
        undo.pop_all()
    if archive.manifest.engine != "sqlite":
        _bring_forward(archive, place)


def _undo(place: Place, saved: list[str]) -> None:
    for name in saved:
        with suppress(OSError):
            place.storage.delete(name)
    begun_file().unlink(missing_ok=True)


def _put_photo(archive: Archive, storage: Storage, name: str) -> None:
    with archive.open(PHOTOS + name) as stream:
        # Not `save`, which may give a name of its own: the rows have this one.
        kept = storage._save(name, File(stream, name))  # type: ignore[attr-defined]
    if kept != name:
        storage.delete(kept)
        raise KeepingRefused(_("The photo %(name)s cannot have its name here.") % {"name": name})


def _fill_database(archive: Archive, connection: BaseDatabaseWrapper, database: Path, tell: Tell) -> None:
    tell(_("The database is put in place"), 0, 0)
    if connection.vendor == "sqlite":
        sqlite.put_in_place(database, connection)
        return
    if archive.manifest.engine == "sqlite":
        call_command("migrate", database=connection.alias, verbosity=0, interactive=False, skip_checks=True)
        with sqlite.beside(database) as source:
            moving.move(source, connection, tell)
        return
    program = postgresql.find("pg_restore", postgresql.version(connection))
    postgresql.clear(connection)
    postgresql.restore(connection, database, program=program)


def _bring_forward(archive: Archive, place: Place) -> None:
    """A dump of PostgreSQL is counted, and brought to this version, where it lies; a copy of SQLite was before."""
    if not _is_filled_from(archive, place):
        raise KeepingRefused(_("PostgreSQL took other rows than the file says: empty it, and start again."))
    if steps_lacking(archive.manifest):
        call_command("migrate", database=place.alias, verbosity=0, interactive=False, skip_checks=True)
