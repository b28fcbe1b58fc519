"""An upgrade and the way back, with requests going on all the while: how many of them failed.

    python -m tests.bench.upgrade --before FOLDER

FOLDER holds the release before, such as `git worktree add FOLDER RELEASE`. The order is that of deploy/SERVER.md: migrate
and collect with the new code while the old serves, start the web server anew, and later point back. The port is held by
whoever starts the web server, as by the socket unit of systemd; with `--proxy PROGRAM` it goes away and comes back
behind that proxy with our Caddyfile, as in compose.yaml. The database is one of its own: on the server of DATABASE_URL
where that is PostgreSQL, else SQLite.
"""

import argparse
import contextlib
import os
import re
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Final

from kitshare.demonstration.browsing import Browser, StepFailed
from kitshare.serving.keeper import listen
from tests.bench.days import database_of

ROOT: Final = Path(__file__).resolve().parents[2]
PHASES: Final = (
    "the release before",
    "migrated and collected, the release before serves",
    "upgraded",
    "gone back",
)


@dataclass(slots=True)
class Seen:
    """What people met in one phase."""

    pages: int = 0
    writes: int = 0
    files: int = 0
    refused: int = 0
    longest: float = 0.0
    failed: list[str] = field(default_factory=list)


class People(threading.Thread):
    """Somebody who goes on reading, or booking, until told to stop."""

    def __init__(self, address: str, phases: dict[str, Seen], *, number: int, writes: bool) -> None:
        super().__init__(daemon=True)
        self.address, self.phases, self.number, self.writes = address, phases, number, writes
        self.phase, self.going = PHASES[0], True

    def run(self) -> None:
        browser = Browser(self.address, patience=90)
        page = browser.open("/people/sign-in/")
        browser.send(page, page.forms[0], username="perpetua@example.org", password="linnow-apples")
        turn = 0
        while self.going:
            seen, began = self.phases[self.phase], time.perf_counter()
            try:
                if self.writes:
                    self._book(browser, turn)
                    seen.writes += 3
                else:
                    self._read(browser, seen)
            except (StepFailed, OSError) as failure:
                if "answered 409" in str(
                    failure
                ):  # the days are taken or closed: said in words, on another day it goes
                    seen.refused += 1
                else:
                    seen.failed.append(str(failure)[:200])
            seen.longest = max(seen.longest, time.perf_counter() - began)
            turn += 1

    def _read(self, browser: Browser, seen: Seen) -> None:
        for path in ("/", "/season/", "/bookings/", "/people/sign-in/"):
            browser.open(path)
            seen.pages += 1
        # A style sheet by the name that the page gives it now: whichever process answers must have it.
        with urllib.request.urlopen(f"{self.address}/people/sign-in/", timeout=30):  # noqa: S310
            seen.pages += 1
        with urllib.request.urlopen(f"{self.address}/people/sign-in/", timeout=90) as answer:  # noqa: S310
            sheet = re.search(rb'/static/[^"]+\.css', answer.read())
        assert sheet, "no style sheet on the page"
        with urllib.request.urlopen(f"{self.address}{sheet[0].decode()}", timeout=90) as answer:  # noqa: S310
            answer.read()
        seen.files += 1

    def _book(self, browser: Browser, turn: int) -> None:
        """A booking asked for, agreed and called off again: each tells somebody by the outbox."""
        page = browser.open("/bookings/new/")
        form = page.form(with_words="Look it over")
        out_on = date.today() + timedelta(days=8 + turn % 10 * 2)  # noqa: DTZ011
        typed: dict[str, str | list[str]] = {
            "machines": [form.choice("machines", "Kettle")],
            "for_whom": form.choice("for_whom", "Sorrelhythe"),
            "out_on": out_on.isoformat(),
            "back_on": (out_on + timedelta(days=1)).isoformat(),
            "fruit_amount": "20",
            "fruit_unit": "crate",
            "deed": "look_over",
        }
        page = browser.send(page, form, **typed)
        page = browser.send(page, page.form(with_words="Book the machines"), deed="send")
        page = browser.send(page, page.form(with_words="Agree the booking"))
        page.says("The village is told")
        away = browser.open(next(address for address, words in page.links if "Call it off" in words))
        form = next(form for form in away.forms if "sign-out" not in form.action and form.method == "post")
        browser.send(away, form, reason="A trial of an upgrade.").says("called off")


@dataclass(slots=True)
class WebServer:
    """Gunicorn of one release after another: on a port that is held for it, or on one that it takes itself."""

    door: str
    held: tuple[int, ...]
    environment: dict[str, str]
    process: subprocess.Popen[bytes] | None = None

    def serve(self, release: Path) -> float:
        """Stop what serves, start this release, and say for how long nobody answered."""
        began = time.perf_counter()
        self.stop()
        command = [python_of(release), "-m", "gunicorn", "--config", "python:kitshare.serving.gunicorn_server"]
        self.process = subprocess.Popen(
            [*command, "--bind", self.door, "--workers", "2", "--log-level", "warning", "kitshare.wsgi"],
            cwd=release, env=self.environment, pass_fds=self.held,
        )  # fmt: skip
        urllib.request.urlopen(f"{self.environment['KITSHARE_ADDRESS']}/people/sign-in/", timeout=90).close()  # noqa: S310
        return time.perf_counter() - began

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=60)


@contextlib.contextmanager
def behind(proxy: str | None, scratch: Path) -> Iterator[tuple[str, str, tuple[int, ...]]]:
    """The address that people ask, where gunicorn listens, and what is held open for it."""
    if proxy is None:
        with listen("127.0.0.1", 0) as held:
            held.set_inheritable(True)
            yield f"http://127.0.0.1:{held.getsockname()[1]}", f"fd://{held.fileno()}", (held.fileno(),)
        return
    with listen("127.0.0.1", 0) as one, listen("127.0.0.1", 0) as other:
        front, back = (f"127.0.0.1:{taken.getsockname()[1]}" for taken in (one, other))
    given = {"KITSHARE_ADDRESS": f"http://{front}", "KITSHARE_WEB": back, "XDG_DATA_HOME": str(scratch)}
    command = [proxy, "run", "--config", str(ROOT / "deploy/Caddyfile"), "--adapter", "caddyfile"]
    with (scratch / "proxy.log").open("wb") as log:
        running = subprocess.Popen(command, env=os.environ | given, stdout=log, stderr=log)
    try:
        yield f"http://{front}", back, ()
    finally:
        running.terminate()
        running.wait(timeout=60)


def python_of(release: Path) -> str:
    """The Python that was installed with a release, else the one that runs this."""
    its_own = release / ".venv/bin/python"
    return str(its_own) if its_own.exists() else sys.executable


def prepare(release: Path, environment: dict[str, str], *words: str) -> None:
    subprocess.run(
        [python_of(release), "manage.py", "set_up", *words],
        cwd=release, env=environment, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip


def run(before: Path, after: Path, *, proxy: str | None, seconds: float, readers: int) -> dict[str, Seen]:
    phases = {name: Seen() for name in PHASES}
    with contextlib.ExitStack() as stack:
        engine = "postgresql" if os.environ.get("DATABASE_URL", "").startswith("postgres") else "sqlite"
        environment = stack.enter_context(database_of(engine, 0))
        address, door, held = stack.enter_context(behind(proxy, Path(environment["KITSHARE_DATA"])))
        environment |= {"KITSHARE_ADDRESS": address, "KITSHARE_SECRET_KEY": "a trial's own key " * 4}
        prepare(before, environment, "--demonstration")
        server = WebServer(door, held, environment)
        server.serve(before)
        people = [People(address, phases, number=number, writes=number == 0) for number in range(readers + 1)]
        try:
            for person in people:
                person.start()
            time.sleep(seconds)
            enter(people, PHASES[1])
            prepare(after, environment)
            time.sleep(seconds)
            enter(people, PHASES[2])
            print(f"nobody answered for {server.serve(after):.1f} s at the upgrade")  # noqa: T201
            time.sleep(seconds)
            prepare(before, environment)  # nothing to migrate; its own names of styles and scripts come back
            enter(people, PHASES[3])
            print(f"nobody answered for {server.serve(before):.1f} s at the way back")  # noqa: T201
            time.sleep(seconds)
        finally:
            for person in people:
                person.going = False
            for person in people:
                person.join(timeout=60)
            server.stop()
    return phases


def enter(people: list[People], phase: str) -> None:
    for person in people:
        person.phase = phase


def main() -> None:
    parser = argparse.ArgumentParser(description="Upgrades and goes back while people read and book.")
    parser.add_argument("--before", type=Path, required=True, help="the folder of the release before")
    parser.add_argument("--proxy", metavar="PROGRAM", help="the caddy that stands before it; it takes port 2019 too")
    parser.add_argument("--seconds", type=float, default=15, help="how long each phase lasts at least")
    parser.add_argument("--readers", type=int, default=3)
    asked = parser.parse_args()
    phases = run(asked.before.resolve(), ROOT, proxy=asked.proxy, seconds=asked.seconds, readers=asked.readers)
    for name, seen in phases.items():
        counts = f"{seen.pages:>5} pages {seen.writes:>4} writes {seen.files:>4} files {seen.refused} taken"
        print(f"{name:<52}{counts}  longest wait {seen.longest:4.1f} s  failed {len(seen.failed)}")  # noqa: T201
        for words in sorted(set(seen.failed)):
            print(f"    {seen.failed.count(words)} times: {words}")  # noqa: T201


if __name__ == "__main__":
    main()
