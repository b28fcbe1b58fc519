"""In which language somebody is told: each member's own, whoever does the deed.

What tells several people of one thing is written once in each language of the site, and of each writing the outbox
keeps the letters to those who chose that language. While there is one language this costs nothing.
"""

import functools
from collections.abc import Callable, Sequence
from contextvars import ContextVar
from typing import Final, ParamSpec, TypeVar

from django.conf import settings
from django.utils import translation

# What a caller has to say, written anew in whatever language is spoken: never a text that is written already.
Said = Callable[[], str]
Lines = Callable[[], Sequence[str]]

P = ParamSpec("P")
R = TypeVar("R")

_spoken: Final[ContextVar[str | None]] = ContextVar("kitshare_spoken", default=None)


def language_of(chosen: str) -> str:
    """The language that somebody is told in: the one chosen, as long as the site has it, else the site's own."""
    return chosen if chosen in dict(settings.LANGUAGES) else settings.LANGUAGE_CODE


def in_each_language(tell: Callable[P, R]) -> Callable[P, list[R]]:
    """Do what a function tells in each language of the site; what it gave each time."""

    @functools.wraps(tell)
    def told(*args: P.args, **kwargs: P.kwargs) -> list[R]:
        given = []
        for code, _name in settings.LANGUAGES:
            spoken = _spoken.set(code)
            try:
                with translation.override(code):
                    given.append(tell(*args, **kwargs))
            finally:
                _spoken.reset(spoken)
        return given

    return told


def is_spoken_to(chosen: str) -> bool:
    """Whether what is being written now is in the language of somebody who chose this one."""
    spoken = _spoken.get()
    return spoken is None or language_of(chosen) == spoken
