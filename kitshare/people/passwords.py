"""Passwords are looked at one after the other in each process."""

import threading
from typing import Any, Final

from django.contrib.auth.hashers import Argon2PasswordHasher

_TURN: Final = threading.Lock()


class OneAtATime(Argon2PasswordHasher):
    """Django's own hash, with all that it costs an attacker; but it costs us 100 MiB each time as well.

    When a season opens two hundred people sign in within minutes. In every thread at once their passwords would take
    more memory than a small server has, and be looked at no sooner: a process has one core to work with.
    """

    def encode(self, *args: Any, **more: Any) -> str:
        with _TURN:
            return super().encode(*args, **more)

    def verify(self, *args: Any, **more: Any) -> bool:
        with _TURN:
            return super().verify(*args, **more)
