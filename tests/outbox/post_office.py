"""A real mail server for tests, and senders that are processes of their own."""

import asyncio
import os
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from email import message_from_bytes
from pathlib import Path
from types import SimpleNamespace

from aiosmtpd.controller import Controller
from django.db import connections
from django.utils import timezone

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message

ROOT = Path(__file__).resolve().parents[2]


class Letters:
    """Keeps what arrives. It may be slow to say so, so that a sender can be caught between sending and marking."""

    def __init__(self) -> None:
        self.seconds_a_letter = 0.0
        self.arrived: list[str] = []
        self.contents: list[bytes] = []

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        self.contents.append(envelope.content)
        self.arrived.append(message_from_bytes(envelope.content)["Message-ID"])
        await asyncio.sleep(self.seconds_a_letter)
        return "250 OK"


def open_office(letters: Letters) -> Controller:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        port = asked.getsockname()[1]
    office = Controller(letters, hostname="127.0.0.1", port=port)
    office.start()
    return office


def manage(*words: str, env: dict[str, str]) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "manage.py", *words], cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True)


def wait_until(claim, seconds: float = 30.0) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if claim():
            return True
        time.sleep(0.02)
    return False


def without_kitshare() -> dict[str, str]:
    """This environment, without what would point a child at another database."""
    return {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "EMAIL_URL"}}


def fill(count: int) -> None:
    """Letters that are all due at the same minute."""
    to = SimpleNamespace(pk=1, name="Sunniva Okparadine", email="sunniva@example.org", telephone="")
    for number in range(count):
        outbox.queue(key=f"letter:{number}", to=to, subject="Pickup", body="Come.", at=timezone.now())


def the_leases_run_out() -> None:
    """Five minutes later."""
    Message.objects.exclude(claimed_until=None).update(claimed_until=timezone.now())


@contextmanager
def on_another_database(**place: object):
    """This thread works on another database, one that other processes can reach too."""
    before = connections["default"]
    here = connections.create_connection("default")
    here.settings_dict = here.settings_dict | place
    connections["default"] = here
    try:
        yield here
    finally:
        here.close()
        connections["default"] = before
