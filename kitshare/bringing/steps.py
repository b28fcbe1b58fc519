"""Saying how far a long deed has come, to whoever wants to know: a number each step, and nothing else."""

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")
# Called with how many are done. It may raise, and the deed is then left off where it is, wholly undone.
Step = Callable[[int], None]


def no_step(_done: int) -> None:
    """Nobody wants to know."""


def counted(things: Iterable[T], step: Step) -> Iterator[T]:
    """The same things, each told once the next is asked for."""
    for number, thing in enumerate(things, start=1):
        yield thing
        step(number)
