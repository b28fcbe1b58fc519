"""Celery workers and beats as real processes, and how to ring for them."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import redis
from django.db import connection
from kombu import Connection

from kitshare.celery import app
from tests.outbox.post_office import ROOT, without_kitshare

SHORT = ["--without-gossip", "--without-mingle", "--without-heartbeat"]


def environment(*, broker: str, folder: Path, mail_port: int | None = None) -> dict[str, str]:
    """On the database of the test, which is PostgreSQL's."""
    at = connection.settings_dict
    found = without_kitshare() | {
        "DATABASE_URL": f"postgres://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}",
        "REDIS_URL": broker,
        "KITSHARE_DATA": str(folder),
        "KITSHARE_BEAT_LEASE": "3",
    }
    return found | ({"EMAIL_URL": f"smtp://127.0.0.1:{mail_port}"} if mail_port else {})


class Crew:
    """The processes that a test started."""

    def __init__(self, env: dict[str, str], log: Path) -> None:
        self.env, self.log = env, log
        self.started: list[subprocess.Popen[bytes]] = []

    def _start(self, *words: str) -> "subprocess.Popen[bytes]":
        with self.log.open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "celery", *words, "--loglevel", "info"],
                cwd=ROOT,
                env=self.env,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.started.append(process)
        return process

    def worker(self, *, senders: int = 1) -> "subprocess.Popen[bytes]":
        return self._start("-A", "kitshare", "worker", "-c", str(senders), *SHORT)

    def beat(self) -> "subprocess.Popen[bytes]":
        return self._start("-A", "tests.faults.quick", "beat")

    def kill(self, process: "subprocess.Popen[bytes]") -> None:
        """Each process of it, at once."""
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def kill_all(self) -> None:
        for process in self.started:
            if process.poll() is None:
                self.kill(process)


def ring(broker: str, task: str = "outbox.tasks.share_out_what_is_due", *arguments: object) -> None:
    """Ring as the beat does."""
    with Connection(broker) as line:
        app.send_task(f"kitshare.{task}", args=arguments, connection=line, expires=55)


def waiting_rings(broker: str) -> int:
    """How many rings nobody has taken yet."""
    with redis.Redis.from_url(broker) as asked:
        return sum(int(asked.llen(queue)) for queue in ("plan", "send"))
