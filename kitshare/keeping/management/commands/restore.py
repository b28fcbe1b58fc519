"""Fills an empty site from a backup, or says what is in one."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import looked_over, restore
from kitshare.keeping.telling import tell


class Command(BaseCommand):
    help = "Fills an empty site from a backup; with --check only reads the file and says what is in it."
    requires_system_checks = []  # one of them says that a restore was begun: this is what ends it

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument("--check", action="store_true", help="change nothing, and say what is in the file")

    def handle(self, *args: Any, file: Path, check: bool, **options: Any) -> None:
        try:
            if check:
                with looked_over(file) as archive:
                    self.stdout.write("\n".join(tell(archive)))
                return
            done = restore(file=file.absolute(), at=timezone.now())
        except KeepingRefused as refused:
            raise CommandError(str(refused)) from refused
        words = {"rows": sum(done.rows.values()), "photos": len(done.photos), "made": f"{done.made_at:%Y-%m-%d %H:%M}"}
        self.stdout.write(_("Restored as of %(made)s UTC: %(rows)d rows, %(photos)d photos.") % words)
        if done.photos_missing:
            missing = {"number": len(done.photos_missing)}
            self.stderr.write(_("%(number)d photos were not in the file; --check says which.") % missing)
        self.stdout.write(_("What waited in the post at that moment is sent once the site starts."))
