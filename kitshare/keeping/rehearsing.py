"""Tries a backup: `manage.py restore` fills a place of its own from it, in a process of its own, and the place goes.

A process of its own, since to it that place is the only one there is: neither a step that moves rows nor a slip of ours
can reach the database on which the site runs.
"""

import json
import os
import select
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, Final, cast
from urllib.parse import quote, urlsplit, urlunsplit

from django.conf import settings
from django.db import connections
from django.utils.translation import gettext as _

from kitshare.keeping import places, postgresql
from kitshare.keeping.archive import peek
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.progress import Tell
from kitshare.keeping.reading_back import CameBack
from kitshare.keeping.refusals import MISHAPS, KeepingRefused, in_words
from kitshare.keeping.restoring import check_engine, check_known, room_needed

# The site goes on meanwhile, and must not run out of room because somebody tries a backup.
ROOM_FOR_THE_SITE: Final = 200_000_000
SECONDS_BETWEEN_LOOKS: Final = 0.3
# What would lead the process of its own back to what the site uses.
NOT_FOR_IT: Final = ("REDIS_URL", "EMAIL_URL", "PROMETHEUS_MULTIPROC_DIR", "KITSHARE_SEVERAL_HOSTS")


def check_readable(file: Path, *, is_sent: bool) -> Manifest:
    """Refuse what this version cannot read, and what must not be believed.

    A dump of PostgreSQL does whatever it says, with every right of the site's role: one that came through a page would
    give whoever sent it what only whoever runs the server has. A database of SQLite is looked at before it is opened.
    """
    manifest = peek(file)
    check_known(manifest)
    if is_sent and manifest.engine != "sqlite":
        raise KeepingRefused(
            _(
                "A dump of PostgreSQL does whatever it says when it is restored, so none that is sent in is tried. "
                "Whoever runs the server can put it among the backups kept there, or make one with --portable."
            )
        )
    return manifest


def check_can_try(file: Path, *, is_sent: bool = False, alias: str = "default") -> Manifest:
    """Refuse what would be refused later, as far as it can be known without reading the file."""
    manifest = check_readable(file, is_sent=is_sent)
    connection = connections[alias]
    check_engine(manifest, connection)
    if connection.vendor == "postgresql":
        postgresql.check_may_create(connection)
    needed = room_needed(file, manifest) + ROOM_FOR_THE_SITE
    free = places.free_bytes(Path(settings.DATA))
    if free < needed:
        words = _(
            "%(needed)d MB should be free where the site's data lie, so that the site has room meanwhile, and %(free)d "
            "MB are: free some room, then try it again."
        )
        raise KeepingRefused(words % {"needed": needed // 1_000_000 + 1, "free": free // 1_000_000})
    return manifest


def rehearse(
    *, file: Path, tell: Tell, go_on: Callable[[], None], is_sent: bool = False, alias: str = "default"
) -> CameBack:
    """Restore a backup beside the running site, read it back, and throw the place away.

    `tell` hears how far it is; `go_on` is asked several times a second, and raises where it should be left off.
    """
    data = Path(settings.DATA)
    try:
        check_can_try(file, is_sent=is_sent, alias=alias)
        with places.work_beside(data) as work, _database(work, alias) as address:
            return _in_a_process(file, work, address, tell=tell, go_on=go_on)
    except MISHAPS as mishap:
        raise in_words(mishap, data) from mishap


@contextmanager
def _database(work: Path, alias: str) -> Iterator[str]:
    """The address of an empty database of the kind that the site has."""
    connection = connections[alias]
    if connection.vendor == "sqlite":
        yield f"sqlite:///{quote(str(work / 'place' / 'kitshare.sqlite3'))}"
        return
    with postgresql.beside(connection) as name:
        told = urlsplit(os.environ["DATABASE_URL"])
        yield urlunsplit(told._replace(path=f"{told.path.rpartition('/')[0]}/{name}"))


def _in_a_process(file: Path, work: Path, address: str, *, tell: Tell, go_on: Callable[[], None]) -> CameBack:
    """It hears of our end by the end of its input, and takes what it began with it."""
    place = work / "place"
    place.mkdir(mode=0o700)
    ours = {name: value for name, value in os.environ.items() if name not in NOT_FOR_IT and "_S3" not in name}
    ours |= {"DATABASE_URL": address, "KITSHARE_DATA": str(place), "KITSHARE_DATABASE_POOL": "0"}
    words = [sys.executable, str(settings.ROOT / "manage.py"), "restore", "--lines", str(file)]
    pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with (work / "said").open("wb") as said:
        process = subprocess.Popen(words, env=ours, stderr=said, start_new_session=True, **pipes)  # noqa: S603
    try:
        for line in _lines(process, go_on):
            if "doing" in line:
                tell(line["doing"], line["done"], line["of"])
            elif "refused" in line:
                raise KeepingRefused(line["refused"])
            else:
                return CameBack.of(line)
    finally:
        _end(process)
    last = ((work / "said").read_text(errors="replace").strip().splitlines() or [str(process.returncode)])[-1]
    raise KeepingRefused(_("The restore broke off: %(said)s") % {"said": last})


def _lines(process: subprocess.Popen[bytes], go_on: Callable[[], None]) -> Iterator[dict[str, Any]]:
    """What it says, as it says it; and between, every while, whether to go on."""
    stream, begun = cast("IO[bytes]", process.stdout), b""
    while True:
        go_on()
        if not select.select([stream], [], [], SECONDS_BETWEEN_LOOKS)[0]:
            continue
        if not (piece := os.read(stream.fileno(), 1 << 16)):
            return
        *whole, begun = (begun + piece).split(b"\n")
        yield from (json.loads(line) for line in whole)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Whatever it still does is for nothing: it goes with all that it started."""
    if process.poll() is None:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
    process.wait()
