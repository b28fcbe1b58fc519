"""The file itself: a zip in which nothing is packed, sealed at its end with the SHA-256 of all that stands before.

Any program opens it. Nothing in it is packed, so nothing in a foreign one can swell. The seal is over every byte: a bit
that turned over is seen, also where a zip would not notice.
"""

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Final, Self

from django.utils.translation import gettext as _

from kitshare.keeping import manifest as manifests
from kitshare.keeping.manifest import Content, Manifest
from kitshare.keeping.refusals import KeepingRefused, in_words

SEAL: Final = b"Kitshare backup, sealed with SHA-256 "
DIGITS: Final = 64
PIECE: Final = 1 << 20
LONGEST_MANIFEST: Final = 1 << 28
LONGEST_PEEK: Final = 1 << 25  # of some two hundred thousand photos: a page looks at it
ENCRYPTED: Final = 0x1


def pieces(stream: IO[bytes]) -> Iterator[bytes]:
    while piece := stream.read(PIECE):
        yield piece


class Writer:
    """Writes a new backup, thing by thing; `finish` seals it. A file that was not finished is no backup."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.contents: dict[str, Content] = {}
        self._zip = zipfile.ZipFile(file, "x", zipfile.ZIP_STORED)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _at: TracebackType | None
    ) -> None:
        self._zip.close()

    def add(self, name: str, stream: IO[bytes]) -> None:
        summed, size = hashlib.sha256(), 0
        with self._zip.open(zipfile.ZipInfo(name), "w", force_zip64=True) as kept:
            for piece in pieces(stream):
                kept.write(piece)
                summed.update(piece)
                size += len(piece)
        self.contents[name] = Content(size, summed.hexdigest())

    def finish(self, manifest: Manifest) -> None:
        self._zip.writestr(zipfile.ZipInfo(manifests.NAME), manifest.as_text())
        self._zip.comment = SEAL + b"0" * DIGITS
        self._zip.close()
        seal(self.file)


def seal(file: Path) -> None:
    """Write the sum of the whole file into its last places, and wait for the disk."""
    digest = _sum_of(file)
    with file.open("r+b") as whole:
        whole.seek(-DIGITS, os.SEEK_END)
        whole.write(digest)
        whole.flush()
        os.fsync(whole.fileno())


def _sum_of(file: Path) -> bytes:
    summed, left = hashlib.sha256(), file.stat().st_size - DIGITS
    with file.open("rb") as whole:
        while left > 0 and (piece := whole.read(min(PIECE, left))):
            summed.update(piece)
            left -= len(piece)
    return summed.hexdigest().encode()


@dataclass(frozen=True, slots=True)
class Archive:
    """A backup whose every sum was found right."""

    file: Path
    manifest: Manifest
    seal: str
    _zip: zipfile.ZipFile

    def open(self, name: str) -> IO[bytes]:
        return self._zip.open(name)

    def settings(self) -> dict[str, Any]:
        told = json.loads(self._zip.read(manifests.SETTINGS))
        return told if isinstance(told, dict) else {}

    def take_out(self, name: str, to: Path) -> None:
        with self.open(name) as stream, to.open("xb") as out:
            for piece in pieces(stream):
                out.write(piece)

    def close(self) -> None:
        self._zip.close()


def verify(file: Path) -> Archive:
    """Open a backup, having read all of it; or say in a sentence why it is none, or none any more."""
    try:
        sealed = _look_at_the_seal(file)
        opened = zipfile.ZipFile(file)
    except zipfile.BadZipFile as wrong:
        raise _foreign(file) from wrong
    except FileNotFoundError as wrong:
        raise KeepingRefused(_("There is no file %(file)s.") % {"file": file}) from wrong
    except IsADirectoryError as wrong:
        raise KeepingRefused(_("%(file)s is a folder: name the file in it.") % {"file": file}) from wrong
    except OSError as wrong:
        raise in_words(wrong, file) from wrong
    try:
        return Archive(file, _look_inside(file, opened), sealed, opened)
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError, OSError, RuntimeError) as wrong:
        opened.close()
        raise _foreign(file) from wrong
    except BaseException:
        opened.close()
        raise


def peek(file: Path) -> Manifest:
    """What a file says of itself, and nothing else of it is read: whether it is whole, only `verify` can tell."""
    try:
        _end_of(file)
        with zipfile.ZipFile(file) as opened:
            listed = opened.getinfo(manifests.NAME)
            if listed.compress_type or listed.file_size > LONGEST_PEEK:
                raise _foreign(file)
            return manifests.read(opened.read(manifests.NAME))
    except (zipfile.BadZipFile, NotImplementedError, KeyError, ValueError, EOFError, RuntimeError) as wrong:
        raise _foreign(file) from wrong
    except OSError as wrong:
        raise in_words(wrong, file) from wrong


def _foreign(file: Path) -> KeepingRefused:
    return KeepingRefused(_("%(file)s is no backup that Kitshare made.") % {"file": file})


def _end_of(file: Path) -> bytes:
    """The sum that stands in the last places of a file."""
    with file.open("rb") as whole:
        size = whole.seek(0, os.SEEK_END)
        whole.seek(max(0, size - DIGITS - len(SEAL)))
        end = whole.read()
    if not end.startswith(SEAL):
        raise KeepingRefused(
            _("%(file)s is no backup that Kitshare made, or its end is missing: fetch it again, or take another.")
            % {"file": file}
        )
    return end[len(SEAL) :]


def _look_at_the_seal(file: Path) -> str:
    digest = _end_of(file)
    if _sum_of(file) != digest:
        raise KeepingRefused(
            _("%(file)s is damaged: something in it changed after it was made. Take another.") % {"file": file}
        )
    return digest.decode()


def _look_inside(file: Path, opened: zipfile.ZipFile) -> Manifest:
    """The seal tells of damage, and anybody can write one: what a stranger may have put in is looked at here."""
    listed = {one.filename: one for one in opened.infolist()}
    packed = [one for one in listed.values() if one.compress_type or one.compress_size != one.file_size]
    hidden = [one for one in listed.values() if one.flag_bits & ENCRYPTED or one.is_dir()]
    room = sum(one.file_size for one in listed.values())
    if packed or hidden or len(listed) != len(opened.infolist()) or room > file.stat().st_size:
        raise _foreign(file)
    if manifests.NAME not in listed or listed[manifests.NAME].file_size > LONGEST_MANIFEST:
        raise _foreign(file)
    manifest = manifests.read(opened.read(manifests.NAME))
    if set(listed) != {manifests.NAME, *manifest.contents}:
        raise _foreign(file)
    for name, content in manifest.contents.items():
        _look_at(opened, name, content, file)
    return manifest


def _look_at(opened: zipfile.ZipFile, name: str, content: Content, file: Path) -> None:
    summed = hashlib.sha256()
    with opened.open(name) as stream:
        for piece in pieces(stream):
            summed.update(piece)
    if (opened.getinfo(name).file_size, summed.hexdigest()) != (content.size, content.sha256):
        raise KeepingRefused(
            _("%(file)s is damaged: %(name)s in it is not what was put in.") % {"file": file, "name": name}
        )
