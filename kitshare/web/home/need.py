"""What one line of the loud part of the first page says."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One thing to do: how pressing, in a word and a sentence, and the page on which it is done."""

    rank: int
    tone: str
    word: str
    text: str
    address: str
    deed: str
