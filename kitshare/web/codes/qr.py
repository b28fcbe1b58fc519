"""A QR code as a drawing: the dark squares of each row as one stroke."""

from dataclasses import dataclass
from itertools import groupby
from typing import Final

import segno
from django.conf import settings
from django.urls import reverse

QUIET: Final = 4  # modules of blank margin that ISO/IEC 18004 asks for


@dataclass(frozen=True, slots=True)
class Drawing:
    """For `codes/qr.html`: how many modules it is wide with its margin, and the outline of the dark ones."""

    side: int
    path: str
    address: str


def address_of(text: str) -> str:
    """Where a code leads, in full: a phone's camera knows nothing of this site."""
    return settings.SITE_ADDRESS.rstrip("/") + reverse("codes:card", args=[text])


def drawn(text: str) -> Drawing:
    """The QR code of a code, with the middle level of error correction: boxes get scratched and splashed."""
    address = address_of(text)
    # Without `boost_error` a longer address would not change the size of the squares from one label to the next.
    code = segno.make(address, error="m", micro=False, boost_error=False)
    strokes = []
    for y, row in enumerate(code.matrix):
        x = 0
        for dark, run in groupby(row):
            width = len(list(run))
            if dark:
                strokes.append(f"M{x + QUIET} {y + QUIET}h{width}v1h-{width}z")
            x += width
    return Drawing(side=len(code.matrix) + 2 * QUIET, path="".join(strokes), address=address)
