"""One round of all due work by hand, or a round every so many seconds."""

import signal
import time
import uuid
from argparse import ArgumentParser
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone

from kitshare.reminders import actions as reminders
from kitshare.serving import logs
from kitshare.serving.lifeline import hold_lifeline
from kitshare.watch import actions as watch
from kitshare.watch.models import RoundName


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
        while not stopping:
            started = time.monotonic()
            close_old_connections()
            if options["verbosity"] > 1:
                self.stdout.write(self._round())
            else:
                self._round()
            while not stopping and time.monotonic() - started < every:
                time.sleep(min(0.5, every))

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


def _stop_signals() -> list[int]:
    """A list that stays empty until the process is asked to stop. A round under way is finished first."""
    stopping: list[int] = []

    def stop(number: int, _frame: FrameType | None) -> None:
        stopping.append(number)

    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, stop)
    return stopping
