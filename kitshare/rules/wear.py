"""How many more outings a part may be expected to last, from how long others of its kind lasted.

The lives of a kind of part, in outings, are taken to follow a Weibull distribution, F = 1 - exp(-(t / a)^g)
(NIST/SEMATECH e-Handbook, 8.1.6.2), of which neither scale nor shape is known. The scale has the prior of which nothing
is said (1 / a), so for each shape the rest is worked out exactly; shapes are weighed by how well they explain the
lives. Parts still in use count for what they have lasted so far. Where few lives have ended, nothing is said.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, fsum, log
from typing import Final

from kitshare.rules.water import require_between

ENOUGH_ENDED: Final = 3
"""Lives that must have ended before anything is said (our choice)."""

SHAPES: Final = tuple(0.5 * 10 ** (n / 20) for n in range(21))
"""From 0.5 (most fail early) over 1 (age does not matter) to 5 (all wear out alike), each as likely as the next at
first (our choice).
"""

LONGEST: Final = 100_000
NINE_IN_TEN: Final = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How many outings one part lasted, 1 to 100,000; `ended` says that it was then worn out, damaged or lost.

    Raises `OutOfRange`.
    """

    outings: int
    ended: bool

    def __post_init__(self) -> None:
        """Refuse what is no life."""
        require_between("outings", self.outings, 1, LONGEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remaining:
    """Outings to come, half a chance to last longer than `expected`; between `low` and `high` in nine of ten cases."""

    low: float
    expected: float
    high: float
    lives: int
    ended: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """One shape, its weight, and what is believed of a^-g then: a gamma of shape `ended` and rate `total`."""

    shape: float
    weight: float
    total: float
    ended: int

    def survival(self, age: float, more: float) -> float:
        """P(life > age + more | life > age)."""
        grown = (age + more) ** self.shape - age**self.shape
        return float((self.total / (self.total + grown)) ** self.ended)


def remaining(lives: Sequence[Life], *, age: int, shapes: Sequence[float] = SHAPES) -> Remaining | None:
    """What a part of an age in outings, 0 to 100,000, may be expected to last yet; None where too few lives ended.

    A life of the part itself does not belong to the lives. Raises `OutOfRange`.
    """
    require_between("age", age, 0, LONGEST)
    ended = sum(life.ended for life in lives)
    if ended < ENOUGH_ENDED:
        return None
    weighed = _weighed(lives, shapes)

    def survival(more: float) -> float:
        return fsum(each.weight * each.survival(age, more) for each in weighed)

    tail = (1 - NINE_IN_TEN) / 2
    low, expected, high = (_reaches(survival, chance) for chance in (1 - tail, 0.5, tail))
    return Remaining(low=low, expected=expected, high=high, lives=len(lives), ended=ended)


def _weighed(lives: Sequence[Life], shapes: Sequence[float]) -> list[_Shape]:
    """Each shape with its posterior weight: g^(d-1) * (product of the d ended lives)^g / total^d, shared out to be 1.

    It is the likelihood, integrated over the scale under 1 / a, without what is the same for every shape.
    """
    ended = [life.outings for life in lives if life.ended]
    logs = fsum(log(outings) for outings in ended)
    count = len(ended)
    totals = [fsum(life.outings**shape for life in lives) for shape in shapes]
    scores = [
        (count - 1) * log(shape) + shape * logs - count * log(total)
        for shape, total in zip(shapes, totals, strict=True)
    ]
    best = max(scores)
    weights = [exp(score - best) for score in scores]
    whole = fsum(weights)
    return [
        _Shape(shape=shape, weight=weight / whole, total=total, ended=count)
        for shape, weight, total in zip(shapes, weights, totals, strict=True)
    ]


def _reaches(survival: Callable[[float], float], chance: float) -> float:
    """The outings at which survival has fallen to a chance: it falls everywhere, so it is found by halving."""
    low, high = 0.0, 1.0
    while survival(high) > chance:
        low, high = high, 2 * high
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if survival(middle) > chance else (low, middle)
    return (low + high) / 2
