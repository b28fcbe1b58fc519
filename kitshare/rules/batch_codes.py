"""Codes of batches: six signs that a person can read off a wet label and type without a mistake going through.

The last sign is a check: a sum of the others, each by its own weight, modulo the number of signs. As that is prime and
every weight differs, one wrong sign is always seen, and so are two signs that changed places (the principle of the
check figures of books, ISO 2108; the signs and weights here are our own).
"""

from enum import StrEnum
from typing import Final

SIGNS: Final = "3479ACDEFGHJKMNPQRTVWXY"
"""Twenty-three signs, a prime number: none can be taken for another when written by hand (no 0 O, 1 I L, 2 Z, 5 S, 6,
8 B, U).
"""

LENGTH: Final = 6
PLACES: Final = LENGTH - 1
MOST: Final = len(SIGNS) ** PLACES
"""How many codes there are: 6,436,343."""


class CodeProblem(StrEnum):
    """What is wrong with a code as typed."""

    EMPTY = "empty"
    LENGTH = "length"
    SIGN = "sign"
    CHECK = "check"


class CodeRefused(ValueError):
    """A code that no bottle bears. `signs` are those that are in no code, or what was understood."""

    def __init__(self, problem: CodeProblem, signs: str = "") -> None:
        """Keep the parts; pages put them into words."""
        super().__init__(f"{problem}: {signs}")
        self.problem = problem
        self.signs = signs


def code_of(number: int) -> str:
    """The code of a number from 0 to MOST - 1; a larger one starts again from 0. Raises ValueError below 0."""
    if number < 0:
        raise ValueError("no batch has a number below 0")
    signs = ""
    left = number % MOST
    for _place in range(PLACES):
        left, sign = divmod(left, len(SIGNS))
        signs = SIGNS[sign] + signs
    return signs + _check_sign(signs)


def read_code(typed: str) -> str:
    """A code as typed, in whatever case and with gaps, as it is kept. Raises CodeRefused."""
    signs = "".join(sign for sign in typed.upper() if sign.isalnum())
    if not signs:
        raise CodeRefused(CodeProblem.EMPTY)
    strange = "".join(dict.fromkeys(sign for sign in signs if sign not in SIGNS))
    if strange:
        raise CodeRefused(CodeProblem.SIGN, strange[:LENGTH])
    if len(signs) != LENGTH:
        raise CodeRefused(CodeProblem.LENGTH, signs[: 2 * LENGTH])
    if _check_sign(signs[:PLACES]) != signs[PLACES]:
        raise CodeRefused(CodeProblem.CHECK, signs)
    return signs


def shown(code: str) -> str:
    """A code as people read it, in two halves: "KD7-QXP"."""
    return f"{code[:3]}-{code[3:]}" if len(code) == LENGTH else code


def _check_sign(signs: str) -> str:
    total = sum((place + 2) * SIGNS.index(sign) for place, sign in enumerate(signs))
    return SIGNS[-total % len(SIGNS)]
