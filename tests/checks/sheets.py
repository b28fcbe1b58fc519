"""Sheets and pictures as people send them, for tests of actions and of pages."""

import io
import struct
import uuid
import zlib

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from kitshare.checks.lines import PartSeen
from kitshare.checks.models import SignedRole
from kitshare.checks.recording import Signature
from kitshare.rules.checklists import Condition

HEIC_HEAD = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 64
SCRIPTED = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


def signed(name: str = "Sunniva Okparadine", **changes) -> Signature:
    return Signature(**({"key": uuid.uuid4(), "name": name, "role": SignedRole.BORROWER, "note": ""} | changes))


def sound(*parts) -> list[PartSeen]:
    return [PartSeen(part=part, count=part.expected_count, condition=Condition.SOUND) for part in parts]


def but(seen: list[PartSeen], part, condition: Condition, count: int | None = None, **changes) -> list[PartSeen]:
    """The same lines, but for one part."""
    number = count if count is not None else (0 if condition == Condition.MISSING else part.expected_count)
    other = PartSeen(part=part, count=number, condition=condition, **changes)
    return [other if line.part == part else line for line in seen]


def picture(size=(1200, 800), kind: str = "JPEG", mode: str = "RGB", **options) -> bytes:
    kept = io.BytesIO()
    Image.new(mode, size, "seagreen" if mode in {"RGB", "RGBA"} else 0).save(kept, kind, **options)
    return kept.getvalue()


def upload(content: bytes, name: str = "pin.jpg", content_type: str = "image/jpeg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type)


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few kilobytes that declares, and holds, so many black pixels."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\x00" * ((width // 8 + 1) * height), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
