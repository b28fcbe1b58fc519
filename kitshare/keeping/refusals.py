"""Why a backup could not be made, or a file not be restored: one sentence for whoever sits at the server."""

import errno
import sqlite3
from pathlib import Path
from typing import Final

from django.db import DatabaseError
from django.utils.translation import gettext as _

NO_ROOM: Final = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
NO_RIGHT: Final = {errno.EACCES, errno.EPERM, errno.EROFS}

# What a disk, a database or a program beside us may answer with.
Mishap = OSError | sqlite3.Error | DatabaseError
MISHAPS: Final = (OSError, sqlite3.Error, DatabaseError)


class KeepingRefused(Exception):
    """A backup or a restore that was not done. The words say why, and what may be done about it."""


def in_words(mishap: Mishap, place: Path) -> KeepingRefused:
    """What went wrong at a place, as a refusal of one sentence."""
    said = " ".join(str(mishap).split())
    number = getattr(mishap, "errno", None)
    if number in NO_ROOM or "disk is full" in said or "No space left" in said:
        return KeepingRefused(_("There is no room left in %(place)s: free some, then start again.") % {"place": place})
    if number in NO_RIGHT or "readonly database" in said or "unable to open database" in said:
        words = _("%(place)s cannot be read or written by this user: give it the right, or choose another place.")
        return KeepingRefused(words % {"place": place})
    return KeepingRefused(_("It did not go, at %(place)s: %(said)s") % {"place": place, "said": said})
