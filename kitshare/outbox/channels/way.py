"""What a way to a person is: a small module that says whom it reaches, and takes one message there."""

from typing import Protocol

from kitshare.outbox.models import Message


class Addressee(Protocol):
    """Whoever is told: a member, as far as the outbox needs to know one."""

    pk: int
    name: str
    email: str | None
    telephone: str


class NotSent(Exception):
    """A message did not go. `for_good`: nor will it tomorrow. `refused`: nobody has that address."""

    def __init__(self, words: str, *, for_good: bool = False, refused: bool = False) -> None:
        super().__init__(words)
        self.words = words
        self.for_good = for_good
        self.refused = refused


class Way(Protocol):
    """One channel. A module is one by having these two functions."""

    def reaches(self, to: Addressee) -> bool:
        """Whether this person can be told this way."""

    def send(self, message: Message) -> None:
        """Take one message to its person; `NotSent` says why it did not go. Called outside any transaction."""
