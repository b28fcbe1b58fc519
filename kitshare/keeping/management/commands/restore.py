"""Fills an empty site from a backup, or says what is in one."""

import json
import os
import signal
import sys
import threading
from argparse import SUPPRESS, ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.keeping.manifest import Manifest
from kitshare.keeping.progress import Lines, Terminal
from kitshare.keeping.reading_back import read_back
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import Place, begun_file, looked_over, restore
from kitshare.keeping.telling import tell


class Command(BaseCommand):
    help = "Fills an empty site from a backup; with --check only reads the file and says what is in it."
    requires_system_checks = []  # one of them says that a restore was begun: this is what ends it

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument("--check", action="store_true", help="change nothing, and say what is in the file")
        parser.add_argument("--lines", action="store_true", help=SUPPRESS)  # asked for by `keeping.rehearsing`

    def handle(self, *args: Any, file: Path, check: bool, lines: bool, **options: Any) -> None:
        if lines:
            _end_with_the_input()
            _restore_in_lines(file, Lines(sys.stdout))
            return
        try:
            if check:
                with looked_over(file) as archive:
                    self.stdout.write("\n".join(tell(archive)))
                return
            done = self._restore(file.absolute())
        except KeepingRefused as refused:
            raise CommandError(str(refused)) from refused
        words = {"rows": sum(done.rows.values()), "photos": len(done.photos), "made": f"{done.made_at:%Y-%m-%d %H:%M}"}
        self.stdout.write(_("Restored as of %(made)s UTC: %(rows)d rows, %(photos)d photos.") % words)
        if done.photos_missing:
            missing = {"number": len(done.photos_missing)}
            self.stderr.write(_("%(number)d photos were not in the file; --check says which.") % missing)
        self.stdout.write(_("What waited in the post at that moment is sent once the site starts."))

    def _restore(self, file: Path) -> Manifest:
        """Say how far it is, and what is true of the place where somebody stops it."""
        progress = Terminal(sys.stderr)
        try:
            return restore(file=file, at=timezone.now(), tell=progress)
        except KeyboardInterrupt:
            if begun_file().exists():
                raise KeepingRefused(_("Stopped. The place is half filled: the same command goes on.")) from None
            raise KeepingRefused(_("Stopped. The place is as empty as it was.")) from None
        finally:
            progress.end()


def _restore_in_lines(file: Path, lines: Lines) -> None:
    """The same, and read back; all of it told to the program that asked."""
    try:
        done = restore(file=file, at=timezone.now(), tell=lines)
        lines.say(read_back(done, place=Place(), tell=lines).as_line())
    except KeepingRefused as refused:
        lines.say(json.dumps({"refused": str(refused)}))


def _end_with_the_input() -> None:
    """Who started this holds the other end of its input, and is gone once that ends: then so are we, at once."""

    def watch() -> None:
        while os.read(0, 1 << 10):
            pass
        if os.getpgrp() == os.getpid():  # what we started ourselves goes too
            os.killpg(0, signal.SIGKILL)
        os._exit(1)

    threading.Thread(target=watch, name="input", daemon=True).start()
