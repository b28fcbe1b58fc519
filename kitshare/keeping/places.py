"""Where a backup is put: written beside, renamed when it is whole, never over another; and how many are kept."""

import errno
import fcntl
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from django.utils.translation import gettext as _

from kitshare.keeping.refusals import KeepingRefused

ENDING: Final = ".zip"
BEGUN: Final = ".kitshare-begun-"
LOCK: Final = "lock"
OURS: Final = re.compile(r"kitshare-\d{8}-\d{6}\.zip")


def free_bytes(folder: Path) -> int:
    """How much is free where a folder lies, or would lie."""
    there = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    return shutil.disk_usage(there).free


def named_after(at: datetime) -> str:
    return f"kitshare-{at.astimezone(UTC):%Y%m%d-%H%M%S}{ENDING}"


def place_for(to: Path, at: datetime) -> Path:
    """The file to write: what was named, or one named after the moment in the folder that was named."""
    file = to if to.name.endswith(ENDING) and not to.is_dir() else to / named_after(at)
    if not file.parent.is_dir():
        raise KeepingRefused(
            _("There is no folder %(folder)s: make it, or look whether its disk is there.") % {"folder": file.parent}
        )
    if os.path.lexists(file):
        raise taken(file)
    return file


def taken(file: Path) -> KeepingRefused:
    return KeepingRefused(_("%(file)s is there already, and was left as it is.") % {"file": file})


@contextmanager
def work_beside(folder: Path) -> Iterator[Path]:
    """A folder to work in, for the owner alone, which is gone at the end however it ends.

    One that a killed process left behind is known by its lock, which died with it, and is swept by the next.
    """
    sweep(folder)
    work = Path(tempfile.mkdtemp(prefix=BEGUN, dir=folder))
    try:
        with (work / LOCK).open("x") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)


def sweep(folder: Path) -> None:
    for left in folder.glob(f"{BEGUN}*"):
        with suppress(OSError), (left / LOCK).open() as lock:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            shutil.rmtree(left, ignore_errors=True)


def put(whole: Path, file: Path) -> None:
    """Give a whole file its name, unless somebody took the name meanwhile; and wait until the disk knows."""
    try:
        os.link(whole, file)
    except FileExistsError as wrong:
        raise taken(file) from wrong
    except OSError as wrong:
        if wrong.errno not in {errno.EPERM, errno.ENOTSUP, errno.EMLINK, errno.ENOSYS}:
            raise
        if file.exists():  # a disk without hard links, such as a stick's
            raise taken(file) from wrong
        whole.rename(file)
    settle(file.parent)


def settle(folder: Path) -> None:
    """Wait until the names in a folder are on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # not every network drive can
            os.fsync(handle)
    finally:
        os.close(handle)


def drop_old(folder: Path, *, keep: int, newest: Path) -> list[Path]:
    """Delete the oldest backups that are ours by their name, but for so many; the one just made always stays.

    Should a clock once have been wrong, names may lie: the new one could look older than all others.
    """
    others = sorted((one for one in folder.iterdir() if OURS.fullmatch(one.name) and one != newest), reverse=True)
    dropped = others[max(0, keep - 1) :]
    for one in dropped:
        one.unlink()
    return dropped
