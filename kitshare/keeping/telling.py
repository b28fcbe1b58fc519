"""What is in a backup, in words for whoever decides whether to restore it."""

import tempfile
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from typing import Final

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.keeping import sqlite
from kitshare.keeping.archive import Archive
from kitshare.keeping.restoring import steps_lacking

ENGINES: Final = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
# What people ask of first, by its table.
THINGS: Final = {
    "people_member": gettext_lazy("members"),
    "people_village": gettext_lazy("villages"),
    "kits_machine": gettext_lazy("machines"),
    "kits_part": gettext_lazy("parts"),
    "bookings_booking": gettext_lazy("bookings"),
    "checks_handovercheck": gettext_lazy("checks"),
    "upkeep_fault": gettext_lazy("faults"),
    "logbook_entry": gettext_lazy("lines of the logbook"),
}
SHOWN: Final = 5


def tell(archive: Archive) -> Iterator[str]:
    """Each sentence about a backup that was verified; the database in it is looked at here, before the first."""
    looked_at = _look_at_database(archive)
    told = archive.manifest
    made = date_format(told.made_at.astimezone(UTC), "l j F Y, H:i")
    words = {"made": made, "version": told.project or "?", "engine": ENGINES[told.engine]}
    yield _("Backup of %(made)s (UTC), made by Kitshare %(version)s on %(engine)s.") % words
    counted = [f"{_n(told.rows[table])} {thing}" for table, thing in THINGS.items() if table in told.rows]
    words = {"things": ", ".join(counted), "rows": _n(sum(told.rows.values())), "photos": _n(len(told.photos))}
    yield _("In it: %(things)s; %(rows)s rows in all, and %(photos)s photos.") % words
    if told.photos_missing:
        some = ", ".join(told.photos_missing[:SHOWN]) + (", ..." if len(told.photos_missing) > SHOWN else "")
        words = {"number": _n(len(told.photos_missing)), "some": some}
        yield _("Not in it, since they were not there when it was made: %(number)s photos (%(some)s).") % words
    yield looked_at
    yield _steps(archive)
    yield from _beside(archive)


def _n(number: int) -> str:
    return number_format(number, use_l10n=True, force_grouping=True)


def _look_at_database(archive: Archive) -> str:
    if archive.manifest.engine != "sqlite":
        return _("Every sum in it was found right. PostgreSQL looks at its dump when it is restored.")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / archive.manifest.database
        archive.take_out(archive.manifest.database, copy)
        sqlite.check_copy(copy, archive.manifest)
    return _("Every sum in it was found right, and its database has just these rows.")


def _steps(archive: Archive) -> str:
    if lacking := steps_lacking(archive.manifest):
        return _("It is older than this version by %(steps)d steps, which are taken when it is restored.") % {
            "steps": lacking
        }
    return _("It is of this version.")


def _beside(archive: Archive) -> Iterator[str]:
    try:
        told = archive.settings()
        values = [f"{name}={value}" for name, value in sorted(told["values"].items())]
        kept_out = ", ".join(told["kept_out"])
    except (ValueError, KeyError, TypeError, AttributeError):
        values, kept_out = [], ""
    if values:
        yield _("Set beside it: %(values)s.") % {"values": ", ".join(values)}
    if kept_out:
        yield _("Set beside it too, with a value that is not in the file: %(names)s.") % {"names": kept_out}
    yield _(
        "Left out: who was signed in, and who tried to. In it: names, telephone numbers, passwords as hashes, and the "
        "addresses of calendars, which go on working. Keep it as you would keep a key."
    )
