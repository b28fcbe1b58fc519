"""Which backups are at hand: those that were made and are kept here, and files that somebody sent in to try them."""

import re
from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from django.conf import settings

from kitshare.keeping.places import OURS
from kitshare.keeping.record import last_backup

BACKUPS: Final = "backups"
SENT: Final = "sent-backups"
NAME_OF_SENT: Final = re.compile(r"sent-[0-9a-f]{32}")
SENT_KEPT_SECONDS: Final = 24 * 60 * 60


@dataclass(frozen=True, slots=True)
class Kept:
    """A backup in one of the folders into which they are made."""

    name: str
    file: Path
    made_at: datetime  # by its name
    size_bytes: int


def kept_backups() -> list[Kept]:
    """Those in the usual folder and in the folder of the last one, the newest first."""
    found: dict[str, Kept] = {}
    for folder in _folders():
        with suppress(OSError):
            for file in folder.iterdir():
                if OURS.fullmatch(file.name) and file.name not in found and file.is_file():
                    found[file.name] = Kept(file.name, file, _moment_of(file.name), file.stat().st_size)
    return sorted(found.values(), key=lambda one: one.name, reverse=True)


def find(name: str) -> Path | None:
    """A backup by the name under which it is kept or was sent; no other file has one here."""
    if NAME_OF_SENT.fullmatch(name):
        file = sent_folder() / name
        return file if file.is_file() else None
    if not OURS.fullmatch(name):
        return None
    return next((folder / name for folder in _folders() if _is_there(folder / name)), None)


def sent_folder() -> Path:
    return Path(settings.DATA) / SENT


def is_sent(name: str) -> bool:
    return NAME_OF_SENT.fullmatch(name) is not None


def drop_sent(name: str) -> None:
    """A file that was sent in has been tried: it is not kept."""
    if is_sent(name):
        (sent_folder() / name).unlink(missing_ok=True)


def sweep_sent(*, at: datetime, needed: Collection[str] = ()) -> None:
    """Files that nobody tried within a day, and beginnings of such whose sending was cut short."""
    with suppress(OSError):
        for file in sent_folder().iterdir():
            with suppress(OSError):
                if file.name not in needed and at.timestamp() - file.stat().st_mtime > SENT_KEPT_SECONDS:
                    file.unlink()


def _folders() -> list[Path]:
    usual, last = Path(settings.DATA) / BACKUPS, last_backup()
    return [usual] if last is None else list(dict.fromkeys([usual, Path(last.place).parent]))


def _is_there(file: Path) -> bool:
    try:
        return file.is_file()
    except OSError:
        return False


def _moment_of(name: str) -> datetime:
    """`kitshare-20271030-230000.zip`; a name that tells no moment is of the first one there is."""
    try:
        return datetime.strptime(name, "kitshare-%Y%m%d-%H%M%S.zip").replace(tzinfo=UTC)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
