"""What is known of the last backup: a small file in the data folder, written once a backup is whole and read back."""

import json
import logging
import os
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings

log = logging.getLogger("kitshare.keeping")

NAME: Final = "last-backup.json"


@dataclass(frozen=True, slots=True)
class Backup:
    """One backup that was made whole, and read back before it got its name."""

    made_at: datetime  # the moment of what is in it
    checked_at: datetime  # when it was read back and every sum in it was found right
    place: str  # where it was put; it may have been carried elsewhere since
    size_bytes: int
    rows: int
    photos: int
    photos_missing: int  # photos that a row names and that were not to be had


def _file() -> Path:
    return Path(settings.DATA) / NAME


def last_backup() -> Backup | None:
    """The last backup made from this data folder, or None if there was none that is known."""
    try:
        kept = json.loads(_file().read_text())
        for name in ("made_at", "checked_at"):
            kept[name] = datetime.fromisoformat(kept[name])
        return Backup(**kept)
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, KeyError) as wrong:
        # Whoever asks shows an age on a page: a damaged note must not take the page with it.
        log.warning("What is known of the last backup cannot be read (%s): %s", _file(), wrong)
        return None


def note(backup: Backup) -> None:
    """Remember a backup as the last. Written beside and renamed, so that a reader never sees half of it."""
    kept = asdict(backup) | {name: getattr(backup, name).isoformat() for name in ("made_at", "checked_at")}
    beside = _file().with_suffix(f".{os.getpid()}.part")
    beside.write_text(json.dumps(kept, indent=1))
    beside.replace(_file())
