"""How long parts lasted, in outings, read from what was seen of them at one handover after another.

A life begins when a part is first seen whole. It ends when the part is seen damaged or missing, or when a spare takes
its place. Wear alone ends none: people see it differently, and a worn part still travels.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from kitshare.rules.checklists import Condition
from kitshare.rules.wear import Life

OVER = frozenset({Condition.DAMAGED, Condition.MISSING})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """A part at one check; `ends_outing` where the check is that at the end of an outing."""

    condition: Condition
    ends_outing: bool
    spare_fitted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lives:
    """Those of one part that ended, and the outings of the one in use; None while there is none in use."""

    ended: tuple[Life, ...]
    age: int | None

    @property
    def all(self) -> tuple[Life, ...]:
        """The one in use among them, for as long as it has lasted so far; not before its first outing."""
        return (*self.ended, Life(outings=self.age, ended=False)) if self.age else self.ended


def lives(sightings: Iterable[Sighting]) -> Lives:
    """The lives of one part, from what was seen of it, the oldest first.

    A life that ended before its first outing was over counts as one outing.
    """
    ended: list[Life] = []
    age: int | None = None
    for seen in sightings:
        if age is not None and seen.ends_outing:
            age += 1
        is_over = seen.spare_fitted or seen.condition in OVER
        if is_over and age is not None:
            ended.append(Life(outings=max(age, 1), ended=True))
        if is_over:
            age = 0 if seen.spare_fitted else None
        elif age is None:
            age = int(seen.ends_outing)
    return Lives(ended=tuple(ended), age=age)
