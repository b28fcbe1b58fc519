"""A picture as a phone sends it, made into one that can be kept: small, upright, silent about where it was taken."""

import hashlib
import io
import logging
from typing import IO, Final

from django.core.files.storage import Storage
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

# What cameras and screens make. Everything else (drawings with script, animations, documents) is refused unread.
FORMATS: Final = ("JPEG", "PNG", "WEBP")
MOST_PIXELS: Final = 40_000_000
LONG_SIDE: Final = 1600  # of a photo at a check; other pictures say their own
QUALITY: Final = 82

# Pillow's own limit is more than twice as high: a picture of ten kilobytes could then take 400 MB to open.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS


log = logging.getLogger("kitshare.kits")


class PhotoRefused(Exception):
    """This picture cannot be kept; the message says what to do."""


class PhotoUnreadable(PhotoRefused):
    """No picture, a torn one, or one of a kind that is not taken."""

    def __init__(self) -> None:
        super().__init__(
            _(
                "This file could not be read as a photo. Take the picture again,"
                " or choose one of the kind JPEG, PNG or WebP."
            )
        )


class PhotoTooHeavy(PhotoRefused):
    """More bytes than are taken."""

    def __init__(self, most_bytes: int) -> None:
        super().__init__(
            _("This photo is too large to send. Photos of up to %(most)d MB are taken.")
            % {"most": most_bytes // 1_000_000}
        )


class PhotoTooWide(PhotoRefused):
    """More pixels than are opened, however few bytes they were packed into."""

    def __init__(self) -> None:
        super().__init__(
            _("This photo is too large to open. Photos of up to %(most)d megapixels are taken.")
            % {"most": MOST_PIXELS // 1_000_000}
        )


class PhotoMoves(PhotoRefused):
    """An animation."""

    def __init__(self) -> None:
        super().__init__(_("This is a moving picture. Send a plain photo."))


def digest_of(upload: "UploadedFile[bytes]") -> str:
    """A sum over the picture as it was sent, by which the same one is known again."""
    whole = hashlib.sha256()
    for chunk in upload.chunks():
        whole.update(chunk)
    return whole.hexdigest()


def let_go(storage: Storage, name: str) -> bool:
    """Drop a picture that nobody needs. Where its storage does not answer it stays there, and nothing fails for it."""
    try:
        storage.delete(name)
    except OSError as error:
        log.warning("The picture %s could not be dropped: %s", name, error)
        return False
    return True


def tidied(sent: IO[bytes], long_side: int = LONG_SIDE) -> bytes:
    """The picture as a plain JPEG: its long side so many pixels at most, turned upright, all that was attached dropped.

    The size that the file declares is looked at before anything is decoded. Raises PhotoRefused.
    """
    try:
        with Image.open(sent, formats=FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                raise PhotoTooWide
            # A phone's JPEG may carry a second picture behind the first; that does not make it move.
            if image.format in {"PNG", "WEBP"} and getattr(image, "is_animated", False):
                raise PhotoMoves
            return _as_jpeg(image, long_side)
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PhotoTooWide from error
    except Exception as error:  # a decoder may raise anything at a torn file
        raise PhotoUnreadable from error


def _as_jpeg(image: Image.Image, long_side: int) -> bytes:
    image.draft("RGB", (long_side, long_side))  # a JPEG is decoded no larger than needed
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((long_side, long_side))
    if upright.has_transparency_data:
        upright = upright.convert("RGBA")
        ground = Image.new("RGBA", upright.size, "white")
        ground.alpha_composite(upright)
        upright = ground
    plain = upright.convert("RGB")
    plain.info.clear()  # comments and position data would travel along otherwise
    kept = io.BytesIO()
    plain.save(kept, "JPEG", quality=QUALITY, optimize=True)
    return kept.getvalue()
