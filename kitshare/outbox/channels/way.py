"""What a way to a person is: a small module that says whom it reaches, and takes one message there."""

from typing import Protocol, runtime_checkable

from kitshare.outbox.models import Message
from kitshare.rules.hearing import Wishes


class Addressee(Protocol):
    """Whoever is told: a member, as far as the outbox needs to know one."""

    pk: int
    name: str
    email: str | None
    telephone: str


@runtime_checkable
class Chooses(Protocol):
    """Somebody who chose how they are told; whoever cannot is told at once."""

    def wishes(self) -> Wishes: ...


class NotSent(Exception):
    """A message did not go. `for_good`: nor will it tomorrow. `of_address`: it is the address that was not taken."""

    def __init__(self, words: str, *, for_good: bool = False, of_address: bool = False) -> None:
        super().__init__(words)
        self.words = words
        self.for_good = for_good
        self.of_address = of_address


class Way(Protocol):
    """One channel. A module is one by having these two functions."""

    def reaches(self, to: Addressee) -> bool:
        """Whether this person can be told this way."""

    def send(self, message: Message) -> None:
        """Take one message to its person; `NotSent` says why it did not go. Called outside any transaction."""
