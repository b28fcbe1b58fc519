"""Short codes to type, such as K7M 4Q4: six characters that are hard to misread, the last of them a check.

The check character is that of ISO/IEC 7064, MOD 37-2, a pure system: 37 is a prime and the weights are powers of 2, so
that one wrong character is always found, and so is every pair of neighbours that changed places. The standard's own
alphabet has the figures, the letters and an asterisk; ours is a part of it, and a body whose check character would fall
outside of ours is drawn again.
"""

from collections.abc import Callable
from enum import StrEnum
from typing import Final

# The standard's characters; a character's place is its value.
VALUES: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
# Those that nobody takes for another. No vowels either: a code should not spell a word.
LETTERS: Final = "23456789CDFGHJKMNPQRTVWXY"
# What is easily typed for a figure, and is no character of ours.
MISREAD: Final = str.maketrans({"B": "8", "S": "5", "Z": "2"})
LENGTH: Final = 6
BETWEEN: Final = frozenset("-‐‑‒–—._/")


class CodeWrongBy(StrEnum):
    """What is wrong with a code that somebody typed."""

    EMPTY = "empty"
    TOO_SHORT = "too_short"
    TOO_LONG = "too_long"
    NEVER_USED = "never_used"
    CHECK = "check"


class CodeWrong(ValueError):
    """No code of ours. `characters` are those that none of ours has."""

    def __init__(self, by: CodeWrongBy, characters: str = "") -> None:
        super().__init__(by)
        self.by = by
        self.characters = characters


def check_character(body: str) -> str:
    """The check character of some figures and capital letters (ISO/IEC 7064, MOD 37-2).

    Raises ValueError for any other character.
    """
    total = 0
    for character in body:
        total = (total + VALUES[:-1].index(character)) * 2 % 37
    return VALUES[(38 - total) % 37]


def draw(choose: Callable[[str], str]) -> str:
    """A whole code; `choose` takes one character of several."""
    while True:
        body = "".join(choose(LETTERS) for _ in range(LENGTH - 1))
        if (check := check_character(body)) in LETTERS:
            return body + check


def read(typed: str) -> str:
    """The code that somebody typed: in any case, with or without gaps, B for 8, S for 5 and Z for 2.

    Raises CodeWrong for anything that no code of ours can be.
    """
    text = "".join(sign for sign in typed if not sign.isspace() and sign not in BETWEEN).upper().translate(MISREAD)
    if not text:
        raise CodeWrong(CodeWrongBy.EMPTY)
    if len(text) > LENGTH:
        raise CodeWrong(CodeWrongBy.TOO_LONG)
    if never := "".join(dict.fromkeys(sign for sign in text if sign not in LETTERS)):
        raise CodeWrong(CodeWrongBy.NEVER_USED, never)
    if len(text) < LENGTH:
        raise CodeWrong(CodeWrongBy.TOO_SHORT)
    if check_character(text[:-1]) != text[-1]:
        raise CodeWrong(CodeWrongBy.CHECK)
    return text


def shown(code: str) -> str:
    """A code as it is printed, in two halves that the eye can hold."""
    return f"{code[: LENGTH // 2]} {code[LENGTH // 2 :]}"
