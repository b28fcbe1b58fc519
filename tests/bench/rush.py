"""The evening on which a season opens: everybody signs in, looks at the season, and asks for the same few weekends.

    python -m tests.bench.rush [--people 200] [--seconds 120]

One small server: gunicorn as deploy/SERVER.md has it, with two processes. Figures are ratios to the bare view, /health/, asked
for all the while; beside them what failed, and how many machines were promised twice, which is asked of the bookings
themselves. The database is one of its own: on the server of DATABASE_URL where that is PostgreSQL, else SQLite.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import threading
import time
from typing import Final

from kitshare.demonstration.browsing import Browser, StepFailed
from tests.bench.days import database_of
from tests.bench.pages import serving

STEPS: Final = ("sign-in page", "signing in", "season", "form", "looking it over", "asking")
PASSWORD: Final = "linnow-apples"
PATIENCE: Final = 60  # in seconds; who waits longer for a page goes away, and counts as an error


class Person(threading.Thread):
    """Somebody who comes at a moment of the rush, and takes the first of the weekends that is still to be had."""

    def __init__(self, address: str, number: int, *, comes_after: float, weekends: list[tuple[str, str]]) -> None:
        super().__init__(daemon=True)
        self.browser = Browser(address, patience=PATIENCE)
        self.number, self.comes_after, self.weekends = number, comes_after, weekends
        self.taken: dict[str, list[float]] = {step: [] for step in STEPS}
        self.refused, self.has_booked = 0, False
        self.failed: list[str] = []

    def run(self) -> None:
        time.sleep(self.comes_after)
        try:
            self._rush()
        except (StepFailed, OSError) as failure:
            self.failed.append(str(failure)[:200])

    def _rush(self) -> None:
        page = self._timed("sign-in page", self.browser.open, "/people/sign-in/")
        who = {"username": f"person{self.number}@example.org", "password": PASSWORD}
        page = self._timed("signing in", self.browser.send, page, page.forms[0], **who)
        page.says("Sign out")
        self._timed("season", self.browser.open, "/season/")
        for out_on, back_on in self.weekends:
            if self._ask(out_on, back_on):
                self.has_booked = True
                return

    def _ask(self, out_on: str, back_on: str) -> bool:
        page = self._timed("form", self.browser.open, "/bookings/new/")
        form = page.form(with_words="Look it over")
        typed = {
            "machines": [form.choice("machines", f"Kit {self.number % 4} press")],
            "out_on": out_on,
            "back_on": back_on,
            "fruit_amount": "300",
            "fruit_unit": "kg",
            "deed": "look_over",
        }
        try:
            page = self._timed("looking it over", self.browser.send, page, form, **typed)
            form = page.form(with_words="Book the machines")
            self._timed("asking", self.browser.send, page, form, deed="send").says("The days are held")
        except StepFailed as refusal:
            if "answered 409" not in str(refusal):
                raise
            self.refused += 1
            return False
        return True

    def _timed(self, step, fetch, *words, **typed):
        began = time.perf_counter()
        try:
            return fetch(*words, **typed)
        finally:
            self.taken[step].append(time.perf_counter() - began)


def bare(address: str, going: threading.Event, taken: list[float]) -> None:
    """The bare view, again and again."""
    browser = Browser(address)
    while not going.wait(0.25):
        began = time.perf_counter()
        browser.open("/health/")
        taken.append(time.perf_counter() - began)


def rush(people: int, seconds: float) -> int:
    """Run it once, print what was seen; how much of it was wrong."""
    engine = "postgresql" if os.environ.get("DATABASE_URL", "").startswith("postgres") else "sqlite"
    with database_of(engine, people) as environment:
        environment["DJANGO_SETTINGS_MODULE"] = "kitshare.settings"
        subprocess.run([sys.executable, "manage.py", "set_up"], env=environment, check=True, stdout=subprocess.DEVNULL)
        world = [sys.executable, "-m", "tests.bench.rush_world"]
        made = subprocess.run(
            [*world, "fill", str(people)], env=environment, check=True, capture_output=True, text=True
        )
        weekends = [tuple(weekend) for weekend in json.loads(made.stdout)]
        settings = "python:tests.bench.quiet_server"
        with serving(environment, "--config", settings, "--workers", "2") as port:
            address = f"http://127.0.0.1:{port}"
            crowd = [
                Person(address, number, comes_after=number * seconds / people, weekends=weekends)
                for number in range(people)
            ]
            over, floor = threading.Event(), []
            beside = threading.Thread(target=bare, args=(address, over, floor), daemon=True)
            beside.start()
            for person in crowd:
                person.start()
            for person in crowd:
                person.join()
            over.set()
            beside.join()
        asked = subprocess.run([*world, "promised_twice"], env=environment, check=True, capture_output=True, text=True)
    return told(crowd, floor, promised_twice=int(asked.stdout))


def told(crowd: list[Person], floor: list[float], *, promised_twice: int) -> int:
    at_least = statistics.median(floor)
    print(f"bare view: median {at_least * 1000:.1f} ms over {len(floor)} requests")  # noqa: T201
    for step in STEPS:
        taken = sorted(second for person in crowd for second in person.taken[step])
        if taken:
            half, most = taken[len(taken) // 2], taken[int(len(taken) * 0.95)]
            print(f"{step:<16}{len(taken):>6} times  p50 {half / at_least:7.1f}  p95 {most / at_least:7.1f}")  # noqa: T201
    failed = [words for person in crowd for words in person.failed]
    for words in sorted(set(failed)):
        print(f"    {failed.count(words)} times: {words}")  # noqa: T201
    booked, refused = sum(person.has_booked for person in crowd), sum(person.refused for person in crowd)
    print(f"{len(crowd)} people, {booked} booked, {refused} times the days were taken")  # noqa: T201
    print(f"errors {len(failed)}, promised twice {promised_twice}")  # noqa: T201
    return len(failed) + promised_twice


def main() -> int:
    parser = argparse.ArgumentParser(description="The rush at a season's opening.")
    parser.add_argument("--people", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=120)
    asked = parser.parse_args()
    print(f"{asked.people} people in {asked.seconds:.0f} s")  # noqa: T201
    return 1 if rush(asked.people, asked.seconds) else 0


if __name__ == "__main__":
    sys.exit(main())
