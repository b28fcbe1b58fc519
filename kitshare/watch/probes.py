"""What a program that watches the site asks: can it serve pages, and is all well behind them?

An answer names the check, says whether it is as it should be, and gives a number and a word: no address, no version, no
reason that only the log should know.
"""

import functools
import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import redis
from django.conf import settings
from django.db import DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from kitshare.keeping.record import last_backup
from kitshare.watch.bounded import Asked
from kitshare.watch.late_post import late_post
from kitshare.watch.models import RoundName
from kitshare.watch.standing import (
    BACKUP_IS_OLD_AFTER,
    CLOCK_STANDS_AFTER,
    LEAST_ROOM_MB,
    POST_IS_LATE_AFTER,
    free_megabytes,
    last_rounds,
    lease_of_a_beat,
)

log = logging.getLogger(__name__)

SECONDS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Seen:
    """What one check saw. Without what is `needed` no page can be answered."""

    name: str
    ok: bool
    number: float | None
    word: str
    needed: bool = False

    def as_plain(self) -> dict[str, Any]:
        return {"ok": self.ok, "number": self.number, "word": self.word}


Check = Callable[[datetime], list[Seen]]


def look(*, at: datetime) -> list[Seen]:
    """Every check, all at once, within two seconds whatever hangs."""
    until = time.monotonic() + SECONDS
    waiting = [(silence, asked(check, at)) for check, silence in _checks()]
    return [one for silence, answer in waiting for one in answer(until - time.monotonic()) or silence]


def asked(check: Check, at: datetime) -> Callable[[float], list[Seen] | None]:
    """Start a check in a thread of its own."""
    return _keeper_of(check).begin_at(at)


class _Keeper:
    """One check and the thread that makes it; the moment is the one of the latest who asked."""

    def __init__(self, check: Check) -> None:
        self._check = check
        self._at: datetime | None = None
        self._asked: Asked[list[Seen]] = Asked(self._go)

    def begin_at(self, at: datetime) -> Callable[[float], list[Seen] | None]:
        self._at = at
        return self._asked.begin()

    def _go(self) -> list[Seen]:
        assert self._at is not None  # noqa: S101
        try:
            return self._check(self._at)
        finally:
            connections.close_all()  # this thread's own


@functools.cache
def _keeper_of(check: Check) -> _Keeper:
    return _Keeper(check)


def _checks() -> Sequence[tuple[Check, list[Seen]]]:
    """Each check, and what is said where it gives no answer in time."""
    silent = "does not answer"
    found: list[tuple[Check, list[Seen]]] = [
        (of_database, [Seen("database", False, None, silent, needed=True)]),
        (of_room, [Seen("room", False, None, silent)]),
        (of_backup, [Seen("backup", False, None, silent)]),
    ]
    if settings.CELERY_BROKER_URL:
        found.append((of_broker, [Seen("broker", False, None, silent)]))
    return found


def of_database(at: datetime) -> list[Seen]:
    """Whether it answers, whether its tables are those of this version, and what of its post is late."""
    began = time.monotonic()
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        answered = Seen("database", True, round((time.monotonic() - began) * 1000, 1), "milliseconds", needed=True)
        lacking = len(_steps() - set(MigrationRecorder(connection).applied_migrations()))
        migrated = Seen("migrations", not lacking, lacking, "steps to take", needed=True)
        return [answered, migrated, *([] if lacking else [of_post(at), of_clock(at)])]
    except DatabaseError as error:
        log.warning("The database does not answer: %s", type(error).__name__)
        return [Seen("database", False, None, "cannot be reached", needed=True)]


@functools.cache
def _steps() -> frozenset[tuple[str, str]]:
    """Every migration that this version needs; a squashed one stands for its steps."""
    return frozenset(MigrationLoader(None).graph.nodes)


def of_post(at: datetime) -> Seen:
    """How late the oldest letter is that should have gone."""
    late = late_post(at)
    return Seen("post", late.by < POST_IS_LATE_AFTER, int(late.by.total_seconds() // 60), "minutes late")


def of_clock(at: datetime) -> Seen:
    """Whether anything rings: a beat that has its lease, or without celery the loop beside the web server."""
    rounds, beat_until = last_rounds()
    last, lease = rounds.get(RoundName.REMINDERS), lease_of_a_beat()
    if settings.CELERY_BROKER_URL:
        heard_at, silent_after = (beat_until - lease if beat_until else None), 2 * lease
    else:
        heard_at, silent_after = (last.done_at if last else None), CLOCK_STANDS_AFTER
    if heard_at is None:
        return Seen("clock", False, None, "nothing rang yet")
    since = max(timedelta(0), at - heard_at)
    return Seen("clock", since <= silent_after, int(since.total_seconds()), "seconds since it rang")


def of_room(at: datetime) -> list[Seen]:
    """What is free where the data lie."""
    free = free_megabytes()
    return [Seen("room", free is not None and free >= LEAST_ROOM_MB, free, "megabytes free")]


def of_backup(at: datetime) -> list[Seen]:
    """How old the last backup is, in hours; a site that never made one is told so, and is not woken for it."""
    backup = last_backup()
    if backup is None:
        return [Seen("backup", True, None, "none known")]
    age = at - backup.made_at
    return [Seen("backup", age < BACKUP_IS_OLD_AFTER, round(age.total_seconds() / 3600, 1), "hours old")]


def of_broker(at: datetime) -> list[Seen]:
    """Whether Redis answers. Pages are answered without it; reminders and post wait for it."""
    began = time.monotonic()
    try:
        with redis.Redis.from_url(
            settings.CELERY_BROKER_URL, socket_timeout=SECONDS, socket_connect_timeout=SECONDS
        ) as broker:
            broker.ping()
    except (redis.RedisError, OSError, ValueError) as error:
        log.warning("The broker does not answer: %s", type(error).__name__)
        return [Seen("broker", False, None, "cannot be reached")]
    return [Seen("broker", True, round((time.monotonic() - began) * 1000, 1), "milliseconds")]
