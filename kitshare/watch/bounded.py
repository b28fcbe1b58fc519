"""Asking something that may hang, and waiting for the answer so long and no longer."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Generic, TypeVar

T = TypeVar("T")

# Whoever hangs for so long is left behind, and another is sent to ask: a line that broke without a word never ends.
GIVEN_UP_AFTER: Final = 30.0


@dataclass(slots=True)
class _Errand(Generic[T]):
    """One asking, in a thread of its own."""

    ask: Callable[[], T]
    began: float = field(default_factory=time.monotonic)
    answers: list[T] = field(default_factory=list)
    thread: threading.Thread = field(init=False)

    def __post_init__(self) -> None:
        # A daemon: the process does not wait for it when it stops.
        self.thread = threading.Thread(target=self._go, daemon=True)
        self.thread.start()

    def _go(self) -> None:
        self.answers.append(self.ask())

    @property
    def is_under_way(self) -> bool:
        return self.thread.is_alive() and time.monotonic() - self.began < GIVEN_UP_AFTER


class Asked(Generic[T]):
    """Asks one thing, one asking at a time however many want to know: while it hangs, no second thread joins it."""

    def __init__(self, ask: Callable[[], T]) -> None:
        self._ask = ask
        self._lock = threading.Lock()
        self._errand: _Errand[T] | None = None

    def begin(self) -> Callable[[float], T | None]:
        """Start asking; what is given back waits so many seconds, and gives the answer, or None without one."""
        with self._lock:
            if self._errand is None or not self._errand.is_under_way:
                self._errand = _Errand(self._ask)
            errand = self._errand

        def answer(seconds: float) -> T | None:
            errand.thread.join(max(0.0, seconds))
            return errand.answers[0] if errand.answers else None

        return answer
