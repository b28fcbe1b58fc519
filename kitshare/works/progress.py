"""How far a work is: said by whoever does it, and written down by a thread of its own with a connection of its own.

So what is said from within a long transaction is seen before it ends, where the engine lets a second one write. On
SQLite none may write meanwhile: there the page shows what was said last before the writing began, and a work that will
be silent so long says how much it writes, and gives no number of steps.
"""

import logging
import threading
from collections.abc import Callable
from datetime import datetime
from typing import Final

from django.db import DatabaseError, connections

from kitshare.works import actions as works
from kitshare.works.models import Work

log = logging.getLogger(__name__)

Clock = Callable[[], datetime]
EVERY_SECONDS: Final = 1.0


class LeftOff(Exception):
    """Somebody cancelled the work, or another has taken it over."""


class Stopping(Exception):
    """The process is to stop: the work is laid down, and another begins it anew."""


class Progress:
    """Called by the work itself: `progress.at(12, of=2000)`. It raises where the work should be left off."""

    def __init__(self, work: Work, *, clock: Clock, stopping: Callable[[], bool]) -> None:
        self._work = work
        self._clock = clock
        self._stopping = stopping
        self._said: tuple[int, int, str] = (0, 0, work.words)
        self._goes_on = True
        self._over = threading.Event()
        self._teller = threading.Thread(target=self._tell, name="progress", daemon=True)

    def __enter__(self) -> "Progress":
        self._teller.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._teller.join()

    def doing(self, words: str, *, of: int = 0) -> None:
        """What begins now, and how many steps it has. Called outside of any transaction: it is written down at once."""
        self._said = (0, of, words)
        self.tell()
        self.check()

    def at(self, done: int) -> None:
        """So many steps are done."""
        _done, of, words = self._said
        self._said = (done, of, words)
        self.check()

    def check(self) -> None:
        """Raise where the work should be left off here."""
        if self._stopping():
            raise Stopping
        if not self._goes_on:
            raise LeftOff

    def _tell(self) -> None:
        try:
            while not self._over.wait(EVERY_SECONDS):
                self.tell()
        finally:
            connections.close_all()  # this thread's own

    def tell(self) -> None:
        """Write down how far it is, and learn whether to go on."""
        done, of, words = self._said
        try:
            self._goes_on = works.note_progress(work=self._work, done=done, total=of, words=words, at=self._clock())
        except DatabaseError as error:
            log.info("How far a work is could not be written: %s", type(error).__name__)
