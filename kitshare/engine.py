"""What the site stands on: two database engines, on which a deed is done wholly or not at all; and its key."""

import errno
import functools
import os
import random
import secrets
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from typing import Final, ParamSpec, TypeVar

from django.db import DatabaseError, InterfaceError, OperationalError, transaction

P = ParamSpec("P")
R = TypeVar("R")

TRIES: Final = 3

# A rare corruption when a write-ahead log is reset was mended in this version of SQLite.
WAL_FROM: Final = (3, 51, 3)


def journal_mode(version: tuple[int, int, int]) -> str:
    """The SQLite journal mode for a library version: WAL where it is sound, else TRUNCATE."""
    return "WAL" if version >= WAL_FROM else "TRUNCATE"


def kept_key(file: Path) -> str:
    """The secret key of an embedded site: made once, kept with its data, readable by its owner alone."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return file.read_text()
    with os.fdopen(handle, "w") as kept:
        key = secrets.token_urlsafe(48)
        kept.write(key)
    return key


def one_writes_at_a_time() -> bool:
    """Whether nobody else can write while a transaction does: then nothing can be said of it until it is over."""
    vendor: str = transaction.get_connection().vendor
    return vendor == "sqlite"


@contextmanager
def readers_go_on() -> Iterator[None]:
    """For a long transaction: on SQLite what it writes stays in memory until it ends, so that whoever reads goes on.

    Else a transaction of more than 2 MB takes the file for itself when its memory is full, long before it ends
    (SQLite's manual, "PRAGMA cache_spill"). Entered outside of any transaction.
    """
    if not one_writes_at_a_time():
        yield
        return
    with transaction.get_connection().cursor() as cursor:
        cursor.execute("PRAGMA cache_spill=OFF")
        try:
            yield
        finally:
            cursor.execute("PRAGMA cache_spill=ON")


def is_busy(error: DatabaseError) -> bool:
    """Whether another writer was in the way, so that the same deed may succeed if tried again."""
    cause = error.__cause__
    words = str(error)
    waited = "locked" in words or "deadlock" in words or "couldn't get a connection" in words
    return waited or getattr(cause, "sqlstate", None) in {"40001", "40P01", "55P03"}


class Trouble(Enum):
    """Why something cannot be done now that may be done later. Nothing of it was done."""

    BUSY = "another writer was in the way"
    AWAY = "the database is away"
    FULL = "the disk takes nothing more"


# By SQLite's result codes, and by those of PostgreSQL (its manual, appendix "PostgreSQL Error Codes").
IN_SQLITE: Final[Mapping[int, Trouble]] = {
    sqlite3.SQLITE_FULL: Trouble.FULL,
    sqlite3.SQLITE_IOERR: Trouble.FULL,
    sqlite3.SQLITE_READONLY: Trouble.FULL,
    sqlite3.SQLITE_CANTOPEN: Trouble.AWAY,
}
IN_POSTGRESQL: Final[Mapping[str, Trouble]] = {
    "53100": Trouble.FULL,
    "58030": Trouble.FULL,
    "53300": Trouble.AWAY,  # too many connections
    "57P01": Trouble.AWAY,  # shut down by its keeper
    "57P02": Trouble.AWAY,  # a process of the server crashed
    "57P03": Trouble.AWAY,  # still starting
}
ON_A_DISK: Final = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS}


def trouble_of(error: BaseException | None) -> Trouble | None:
    """What kind of trouble an error tells of; None where it is a fault of ours, which no waiting mends."""
    if isinstance(error, OSError):
        return Trouble.FULL if error.errno in ON_A_DISK else None
    if not isinstance(error, OperationalError | InterfaceError):
        return None
    if isinstance(error, OperationalError) and is_busy(error):
        return Trouble.BUSY
    cause = error.__cause__
    if isinstance(cause, sqlite3.Error):
        return IN_SQLITE.get(getattr(cause, "sqlite_errorcode", 0) & 0xFF)
    state = getattr(cause, "sqlstate", "")
    if state is None or state.startswith("08"):  # psycopg has no code from a server that it does not reach
        return Trouble.AWAY
    return IN_POSTGRESQL.get(state)


def deed(action: Callable[P, R]) -> Callable[P, R]:
    """Make an action atomic, and try it again (three times at most) when another writer was in the way.

    Inside another deed it is a part of that one: only the outermost is tried again, since it alone can start over.
    """

    @functools.wraps(action)
    def done(*args: P.args, **kwargs: P.kwargs) -> R:
        if transaction.get_connection().in_atomic_block:
            with transaction.atomic():
                return action(*args, **kwargs)
        for attempt in range(1, TRIES + 1):
            try:
                with transaction.atomic():
                    return action(*args, **kwargs)
            except OperationalError as error:
                if attempt == TRIES or not is_busy(error):
                    raise
                time.sleep(random.uniform(0.02, 0.1) * attempt)  # noqa: S311
        raise AssertionError("unreachable")

    return done
