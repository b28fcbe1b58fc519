"""A real mail server for tests, and senders that are processes of their own."""

import asyncio
import os
import socket
import subprocess
import sys
import time
from email import message_from_bytes
from pathlib import Path

from aiosmtpd.controller import Controller

ROOT = Path(__file__).resolve().parents[2]


class Letters:
    """Keeps what arrives. It may be slow to say so, so that a sender can be caught between sending and marking."""

    def __init__(self) -> None:
        self.seconds_a_letter = 0.0
        self.arrived: list[str] = []

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
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


def said(*words: str, env: dict[str, str]) -> str:
    """Run a command of the site to its end, and give back what it said."""
    with manage(*words, env=env) as process:
        words_said = process.communicate(timeout=60)[0]
    assert process.returncode == 0
    return words_said.strip()


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
