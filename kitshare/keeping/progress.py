"""Saying how far a restore is: to whoever sits at the terminal, or to the program that started it."""

import json
from collections.abc import Callable
from typing import Final, TextIO

# What is done now, how many of it, and of how many; nought of nought where that is not known.
Tell = Callable[[str, int, int], None]
WIDTH: Final = 30


def tell_nobody(_words: str, _done: int, _of: int) -> None:
    """Nobody wants to know."""


class Terminal:
    """Writes a line for each thing that is done: on a terminal with a bar that grows, elsewhere once, as it begins."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._grows = out.isatty()
        self._words = ""
        self._share = -1

    def __call__(self, words: str, done: int, of: int) -> None:
        share = WIDTH * done // of if of else 0
        if words == self._words and (share == self._share or not self._grows):
            return
        if self._grows:
            begins = "\n" if self._words and words != self._words else "\r"
            bar = f" [{'#' * share}{'.' * (WIDTH - share)}] {done} / {of}" if of else " ..."
            self._out.write(f"{begins}{words}{bar}")
        else:
            self._out.write(f"{words} ...\n")
        self._out.flush()
        self._words, self._share = words, share

    def end(self) -> None:
        """Go on below the last line."""
        if self._grows and self._words:
            self._out.write("\n")


class Lines:
    """Writes each thing that is done as a line of JSON, for a program."""

    def __init__(self, out: TextIO) -> None:
        self._out = out

    def __call__(self, words: str, done: int, of: int) -> None:
        self.say(json.dumps({"doing": words, "done": done, "of": of}))

    def say(self, line: str) -> None:
        self._out.write(f"{line}\n")
        self._out.flush()
