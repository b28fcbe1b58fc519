"""How much a page costs over its floor: the same server, the same signed-in coordinator, the same rows, no template.

    sh deploy/bench.sh

Figures are ratios of medians within one run. Requests for page and floor take turns, so that a busy machine slows both.
"""

import argparse
import http.client
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

ROUNDS: Final = 120
WARM_UP: Final = 10
AIM: Final = 2.0
SIZES: Final = (100, 10_000)
SETTINGS: Final = "tests.bench.settings"


@contextmanager
def serving(environment: dict[str, str], *options: str) -> Iterator[int]:
    """The site on a free port, one worker unless told otherwise."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "kitshare.wsgi", *(options or ("--workers", "1"))]
    command += ["--bind", f"127.0.0.1:{port}", "--log-level", "error"]
    server = subprocess.Popen(command, env=environment)
    try:
        for _attempt in range(100):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield port
    finally:
        server.terminate()
        server.wait(timeout=20)


def fetch(port: int, address: str, cookie: str) -> float:
    """Milliseconds until the whole answer is here."""
    began = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", address, headers={"Cookie": f"sessionid={cookie}"})
    answer = connection.getresponse()
    answer.read()
    took = (time.perf_counter() - began) * 1000
    connection.close()
    if answer.status != 200:
        raise SystemExit(f"{address} answered {answer.status}.")
    return took


def measure(port: int, page: str, floor: str, cookie: str, rounds: int) -> tuple[float, float]:
    """Median milliseconds of a page and of its floor, asked for in turns."""
    taken: dict[str, list[float]] = {page: [], floor: []}
    for turn in range(WARM_UP + rounds):
        for address in (page, floor):
            took = fetch(port, address, cookie)
            if turn >= WARM_UP:
                taken[address].append(took)
    return statistics.median(taken[page]), statistics.median(taken[floor])


def run(size: int, rounds: int) -> list[tuple[str, float, float]]:
    """Fill a site of its own with so many bookings, and measure its pages."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"KITSHARE_DATA": folder, "DJANGO_SETTINGS_MODULE": SETTINGS}
        environment.pop("DATABASE_URL", None)
        manage = [sys.executable, "manage.py"]
        for command in (["migrate", "--verbosity", "0"], ["collectstatic", "--noinput", "--verbosity", "0"]):
            subprocess.run([*manage, *command], env=environment, check=True)
        filled = [sys.executable, "-m", "tests.bench.fill", str(size)]
        answer = subprocess.run(filled, env=environment, check=True, capture_output=True, text=True)
        cookie, key = answer.stdout.split()
        pages = [
            ("home", "/", "/floor/home/"),
            ("season", "/season/", "/floor/season/"),
            ("bookings", "/bookings/", "/floor/bookings/"),
            ("a booking", f"/bookings/{key}/", f"/floor/bookings/{key}/"),
        ]
        with serving(environment) as port:
            return [(name, *measure(port, page, floor, cookie, rounds)) for name, page, floor in pages]


def main() -> None:
    parser = argparse.ArgumentParser(description="Pages as ratios to a floor page.")
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES, help="how many bookings, one run for each")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    asked = parser.parse_args()
    print(f"{'page':<12}{'bookings':>10}{'page ms':>10}{'floor ms':>10}{'ratio':>8}   aim under {AIM}")  # noqa: T201
    for size in asked.sizes:
        for name, page, floor in run(size, asked.rounds):
            print(f"{name:<12}{size:>10,}{page:>10.2f}{floor:>10.2f}{page / floor:>8.2f}")  # noqa: T201


if __name__ == "__main__":
    main()
