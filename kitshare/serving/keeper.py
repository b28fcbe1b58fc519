"""Looks after the two processes of an embedded site, the web server and the loop.

The parent holds the listening socket, so that a web server which dies takes no place in the queue with it. Each child
holds one end of a pipe: when the parent is gone, however it went, the pipe closes and the child stops by itself.
"""

import logging
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from kitshare.serving.lifeline import LIFELINE

log = logging.getLogger("kitshare.serving")

SECONDS_TO_STOP: Final = 25
LONGEST_WAIT: Final = 30
# A child that lived so long was well: its next death is a new story.
SECONDS_WELL: Final = 60


def listen(host: str, port: int) -> socket.socket:
    """Take the address, or raise OSError."""
    family, kind, protocol, _name, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    taken = socket.socket(family, kind, protocol)
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind(address)
        taken.listen(512)
    except OSError:
        taken.close()
        raise
    return taken


@dataclass(slots=True)
class Child:
    """One process to keep alive."""

    name: str
    command: list[str]
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    start_after: float = 0.0
    deaths: int = 0

    def wait_after_death(self, now: float) -> int:
        """How many seconds to leave it down: none at first, then longer with each death in a row."""
        self.deaths = 1 if now - self.started > SECONDS_WELL else self.deaths + 1
        return int(min(2.0**self.deaths - 1, LONGEST_WAIT))


@dataclass(slots=True)
class Keeper:
    """Starts its children, starts again those that die, and stops them all when it is asked to stop."""

    children: list[Child]
    pass_fds: tuple[int, ...] = ()
    stopping: bool = False
    clock: Callable[[], float] = time.monotonic
    _lifeline: tuple[int, int] = field(default_factory=os.pipe)

    def run(self) -> None:
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, self._asked_to_stop)
        try:
            while not self.stopping:
                for child in self.children:
                    self._look_after(child)
                time.sleep(0.1)
        finally:
            self._stop_all()

    def _asked_to_stop(self, *_signal: object) -> None:
        self.stopping = True

    def _look_after(self, child: Child) -> None:
        now = self.clock()
        if child.process is None:
            if now >= child.start_after:
                self._start(child, now)
            return
        code = child.process.poll()
        if code is not None:
            wait = child.wait_after_death(now)
            log.error("The %s stopped (%s); it starts again in %s s.", child.name, code, wait)
            child.process, child.start_after = None, now + wait

    def _start(self, child: Child, now: float) -> None:
        read_end = self._lifeline[0]
        # A session of its own: Ctrl-C reaches the parent alone, which then stops the children in order.
        child.process = subprocess.Popen(  # noqa: S603
            child.command,
            env=os.environ | {LIFELINE: str(read_end)},
            pass_fds=(read_end, *self.pass_fds),
            stdin=subprocess.DEVNULL,
            start_new_session=True,
        )
        child.started = now

    def _stop_all(self) -> None:
        running = [child.process for child in self.children if child.process and child.process.poll() is None]
        for process in running:
            process.terminate()
        until = self.clock() + SECONDS_TO_STOP
        for process in running:
            try:
                process.wait(timeout=max(0.1, until - self.clock()))
            except subprocess.TimeoutExpired:
                log.warning("Process %s did not stop within %s s and is ended.", process.pid, SECONDS_TO_STOP)
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()


def web_server(listening: socket.socket, *, workers: int) -> Child:
    options = {
        "config": "python:kitshare.serving.gunicorn_settings",
        "bind": f"fd://{listening.fileno()}",
        "workers": str(workers),
    }
    words = [word for name, value in options.items() for word in (f"--{name}", value)]
    return Child("web server", [sys.executable, "-m", "gunicorn", *words, "kitshare.wsgi"])


def loop(*, every: int) -> Child:
    return Child("loop", [sys.executable, sys.argv[0], "tick", "--every", str(every)])
