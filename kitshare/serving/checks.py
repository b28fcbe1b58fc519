"""System checks: how SQLite keeps its promises (`check --database default` shows it), and what several hosts share."""

import sqlite3
from collections.abc import Sequence
from typing import Any, Final

from django.conf import settings
from django.core import checks
from django.db import connections

from kitshare.engine import WAL_FROM, journal_mode

FULL: Final = 2


def sqlite_keeps_its_promises(databases: Sequence[str] | None = None, **_unused: Any) -> list[checks.CheckMessage]:
    """Each SQLite database in use writes through to the disk, in the journal mode that is sound for its version."""
    return [found for alias in databases or () for found in _of(alias)]


def _of(alias: str) -> list[checks.CheckMessage]:
    connection = connections[alias]
    if connection.vendor != "sqlite":
        return []
    with connection.cursor() as cursor:
        mode = str(cursor.execute("PRAGMA journal_mode").fetchone()[0]).upper()
        synchronous = cursor.execute("PRAGMA synchronous").fetchone()[0]
    found: list[checks.CheckMessage] = [_said(mode)]
    if synchronous != FULL:
        found.append(
            checks.Error("SQLite does not wait for the disk: what was promised can be lost.", id="kitshare.E002")
        )
    if getattr(connection, "transaction_mode", "") != "IMMEDIATE":
        found.append(
            checks.Error(
                "SQLite transactions do not take their turn: a look, then an insert, races.", id="kitshare.E003"
            )
        )
    return found


def _said(mode: str) -> checks.CheckMessage:
    here, since = sqlite3.sqlite_version, ".".join(map(str, WAL_FROM))
    wanted = journal_mode(sqlite3.sqlite_version_info)
    if mode not in {wanted, "MEMORY"}:  # a database in memory has no journal to choose
        return checks.Error(f"SQLite {here} runs in journal mode {mode} instead of {wanted}.", id="kitshare.E001")
    why = "its write-ahead log is sound" if wanted == "WAL" else f"its write-ahead log is sound from {since} on only"
    return checks.Info(f"SQLite {here} runs in journal mode {mode}: {why}.", id="kitshare.I001")


def several_hosts_share(app_configs: Sequence[Any] | None = None, **_unused: Any) -> list[checks.CheckMessage]:
    """Where several hosts do the work of one site, nothing that one of them keeps may be needed by another."""
    if not settings.SEVERAL_HOSTS:
        return []
    on_sqlite = settings.DATABASES["default"]["ENGINE"].endswith("sqlite3")
    lacking = {
        "kitshare.E005": (not on_sqlite, "DATABASE_URL names no server that all of them reach."),
        "kitshare.E006": (settings.SECRET_KEY_IS_GIVEN, "KITSHARE_SECRET_KEY is not set: each would make its own."),
        "kitshare.E007": (
            not settings.STORAGES["default"]["BACKEND"].endswith("FileSystemStorage"),
            "KITSHARE_PHOTOS_S3 is not set: a photo would lie where it came in, and nowhere else.",
        ),
        "kitshare.E008": (
            bool(settings.CELERY_BROKER_URL),
            "REDIS_URL is not set: workers would not hear of each other.",
        ),
    }
    told = "Several hosts share the work (KITSHARE_SEVERAL_HOSTS), but {words}"
    return [
        checks.Error(told.format(words=words), id=number) for number, (is_so, words) in lacking.items() if not is_so
    ]


def announce() -> None:
    checks.register(several_hosts_share)
    checks.register(sqlite_keeps_its_promises, checks.Tags.database)
