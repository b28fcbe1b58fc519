"""One round of all due work by hand, or a round every so many seconds."""

import logging
import signal
import threading
import time
import uuid
from argparse import ArgumentParser
from types import FrameType
from typing import Any, Final

from django.core.management.base import BaseCommand
from django.db import DatabaseError, close_old_connections
from django.utils import timezone

from kitshare.reminders import actions as reminders
from kitshare.serving import logs
from kitshare.serving.lifeline import hold_lifeline
from kitshare.watch import actions as watch
from kitshare.watch.models import RoundName
from kitshare.works import running

log = logging.getLogger(__name__)

# A work under way at a stop is laid down at its next step; nothing of it stays.
SECONDS_TO_LAY_DOWN: Final = 15


class Command(BaseCommand):
    help = "Writes the reminders that are due, and sends what waits in the outbox."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--every", type=float, metavar="SECONDS", help="go on, one round every so many seconds")

    def handle(self, *args: Any, every: float | None, **options: Any) -> None:
        """Without --every: one round, and say what it did. With it: go on until told to stop, between two rounds."""
        if every is None:
            self.stdout.write(self._round())
            return
        stopping = _stop_signals()
        hold_lifeline()
        # Long works have a thread of their own: no letter waits behind a file of two thousand bookings.
        works = threading.Thread(target=_do_works, args=(stopping,), name="works", daemon=True)
        works.start()
        while not stopping:
            started = time.monotonic()
            close_old_connections()
            if options["verbosity"] > 1:
                self.stdout.write(self._round())
            else:
                self._round()
            while not stopping and time.monotonic() - started < every:
                time.sleep(min(0.5, every))
        works.join(timeout=SECONDS_TO_LAY_DOWN)

    def _round(self) -> str:
        logs.begin(round=uuid.uuid4().hex)
        try:
            began = time.monotonic()
            done = reminders.tick(at=timezone.now())
            watch.note_round(name=RoundName.REMINDERS, seconds=time.monotonic() - began, at=timezone.now())
        finally:
            logs.end()
        return (
            f"Reminders written: {done.written}. Messages sent: {done.sent}. Failed, to be tried again: {done.failed}."
        )


def _do_works(stopping: list[int]) -> None:
    """Take up each long work soon after it was asked for; what breaks here must not end the thread."""
    while not stopping:
        close_old_connections()
        try:
            running.do_what_waits(clock=timezone.now, stopping=lambda: bool(stopping))
        except DatabaseError as error:
            log.warning("No work was taken up: %s", type(error).__name__)
        time.sleep(1)


def _stop_signals() -> list[int]:
    """A list that stays empty until the process is asked to stop. A round under way is finished first."""
    stopping: list[int] = []

    def stop(number: int, _frame: FrameType | None) -> None:
        stopping.append(number)

    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, stop)
    return stopping
