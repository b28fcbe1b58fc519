"""What may become of a long work."""

from dataclasses import dataclass
from typing import Any

from kitshare.works.actions import Made


class CannotBeDone(Exception):
    """What the work is about does not let it be done; the words are for whoever asked."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a work."""

    words: str
    made: Made | None = None
    found: dict[str, Any] | None = None
