"""Deeds begun at the same moment, each with a connection of its own, on whichever engine the tests run."""

import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Barrier
from typing import Any

from django.db import connection


def at_once(*deeds: Callable[[], Any]) -> list[Any]:
    """What each deed gave or raised, all of them begun at the same moment."""
    start = Barrier(len(deeds))

    def run(deed: Callable[[], Any]) -> Any:
        start.wait(10)
        try:
            return deed()
        except Exception as error:
            return error
        finally:
            connection.close()

    with _database_for_threads(), ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(run, deeds))


@contextmanager
def _database_for_threads() -> Iterator[None]:
    """The tests' SQLite lies in memory, in one connection: for the race it lies in a file, as a site's does."""
    if connection.vendor != "sqlite":
        yield
        return
    in_memory = connection.settings_dict["NAME"]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "race.sqlite3"
        _copy(connection.connection, sqlite3.connect(file))
        connection.settings_dict["NAME"] = str(file)
        try:
            yield
        finally:
            connection.settings_dict["NAME"] = in_memory
            copy = sqlite3.connect(file)
            copy.backup(connection.connection)
            copy.close()


def _copy(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    source.backup(target)
    target.close()


def killed_in(deed: Callable[[], Any]) -> int:
    """Run a deed in a process of its own, which is killed somewhere in it; the signal that ended it, 0 for none."""
    with _database_for_threads():
        if connection.vendor != "sqlite":
            connection.close()
        process = os.fork()
        if process == 0:
            connection.connection = None  # the child's own from here on
            try:
                deed()
            finally:
                os._exit(0)
        _pid, status = os.waitpid(process, 0)
    return os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
