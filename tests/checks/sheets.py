"""Sheets and pictures as people send them, for tests of actions and of pages."""

import io
import uuid

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from kitshare.checks.lines import PartSeen
from kitshare.checks.models import SignedRole
from kitshare.checks.recording import Signature
from kitshare.rules.checklists import Condition


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
