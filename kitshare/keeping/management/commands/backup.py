"""Makes a backup of the site in one file, while the site runs."""

import signal
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.keeping import places
from kitshare.keeping.making import make_backup
from kitshare.keeping.refusals import MISHAPS, KeepingRefused, in_words


class Command(BaseCommand):
    help = "Writes the database and all photos into one file, while the site runs, and reads it back."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to", type=Path, metavar="FILE|FOLDER", help="a new file (.zip), or a folder that is there"
        )
        parser.add_argument("--keep", type=int, metavar="N", help="of the backups in the folder keep the newest N")
        parser.add_argument(
            "--portable", action="store_true", help="from PostgreSQL: a file that can be restored on SQLite as well"
        )

    def handle(self, *args: Any, to: Path | None, keep: int | None, portable: bool, **options: Any) -> None:
        signal.signal(signal.SIGTERM, _stop)
        try:
            to = to or _usual_folder()
            if keep is not None and (keep < 1 or not to.is_dir()):
                raise KeepingRefused(_("--keep takes a number from 1 on, and --to a folder."))
            made = make_backup(to=to.absolute(), at=timezone.now(), clock=timezone.now, portable=portable)
            dropped = places.drop_old(to.absolute(), keep=keep, newest=Path(made.place)) if keep else []
        except KeepingRefused as refused:
            raise CommandError(str(refused)) from refused
        except MISHAPS as mishap:
            raise CommandError(str(in_words(mishap, Path(to or settings.DATA)))) from mishap
        words = {"place": made.place, "rows": made.rows, "photos": made.photos, "size": f"{made.size_bytes / 1e6:.1f}"}
        self.stdout.write(_("%(place)s: %(rows)d rows, %(photos)d photos, %(size)s MB, written and read back.") % words)
        if made.photos_missing:
            missing = {"number": made.photos_missing}
            self.stderr.write(_("%(number)d photos that rows name are not there; the file says which.") % missing)
        if dropped:
            self.stdout.write(_("Deleted, being older: %(files)s.") % {"files": ", ".join(one.name for one in dropped)})


def _usual_folder() -> Path:
    folder = Path(settings.DATA) / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def _stop(_number: int, _frame: object) -> None:
    """Asked to stop: what was begun is cleared away on the way out."""
    raise SystemExit(128 + signal.SIGTERM)
