"""How a web process leaves: whoever knocked is answered, and whoever comes later is told at once that nobody is here.

Gunicorn's own worker stops taking connections when it is told to leave, and keeps the door until its last answer is
sent. The kernel meanwhile lets people in whom nobody will see to, and drops them in the end. A proxy waits and tries
again where nobody listens, but it may not send a form twice that was taken and then dropped.
"""

from typing import Any

from gunicorn.workers.gthread import ThreadWorker


class LeavesInOrder(ThreadWorker):  # type: ignore[misc]
    """Where somebody else holds the port as well, as systemd does, the door stays: people wait for the next process."""

    told_to_leave = False

    def handle_exit(self, sig: int, frame: Any) -> None:
        self.told_to_leave = True
        super().handle_exit(sig, frame)

    def set_accept_enabled(self, enabled: bool) -> None:
        super().set_accept_enabled(enabled)
        if self.told_to_leave and not enabled:
            for door in self.sockets:
                self._let_in_who_waits(door)
                door.close()

    def _let_in_who_waits(self, door: Any) -> None:
        for _knock in range(self.cfg.backlog):
            inside = self.nr_conns
            self.accept(door)
            if self.nr_conns == inside:
                return
