"""The folder in which the processes of one web server add up their figures.

Each process counts into files of its own. What one has counted that is gone must go on counting, or the sums would
fall; and its files must not stay, since processes are made anew all day: so they are added to the files of nobody.
"""

import fcntl
import logging
import os
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from prometheus_client.mmap_dict import MmapedDict
from prometheus_client.multiprocess import mark_process_dead

log = logging.getLogger(__name__)

NOBODY: Final = "gone"  # in the place of a process's number


def named() -> str:
    """Where it is; empty where each process tells of itself alone."""
    return os.environ.get("PROMETHEUS_MULTIPROC_DIR", "")


def begin_anew() -> None:
    """Before the first process begins: what those of an earlier server counted is forgotten."""
    if not named():
        return
    folder = Path(named())
    folder.mkdir(parents=True, exist_ok=True)
    for file in folder.glob("*.db"):
        file.unlink(missing_ok=True)


def gather(pid: int) -> None:
    """A process is gone, however it went: what it counted is kept, and its files are not.

    Called by the web server's first process, which no figure may stop.
    """
    if not named():
        return
    folder = Path(named())
    mark_process_dead(pid, str(folder))  # type: ignore[no-untyped-call]
    with alone():
        for file in folder.glob(f"*_{pid}.db"):
            try:
                _add(file, to=folder / f"{file.name.removesuffix(f'_{pid}.db')}_{NOBODY}.db")
            except (OSError, ValueError, RuntimeError, struct.error):
                log.exception("What a process counted that is gone cannot be read.")
            file.unlink()


@contextmanager
def alone() -> Iterator[None]:
    """While figures are moved nobody reads them, so that none is seen twice or not at all."""
    with (Path(named()) / "lock").open("a") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _add(file: Path, *, to: Path) -> None:
    """Counters and histograms are sums, each number under a key."""
    together = MmapedDict(str(to))  # type: ignore[no-untyped-call]
    try:
        for key, value, at, _place in MmapedDict.read_all_values_from_file(str(file)):  # type: ignore[no-untyped-call]
            before, _at = together.read_value(key)  # type: ignore[no-untyped-call]
            together.write_value(key, before + value, at)  # type: ignore[no-untyped-call]
    finally:
        together.close()  # type: ignore[no-untyped-call]
