"""How much the rules of a press day cost over the bare work: a long log over the csv module, a plan over its sums.

    python -m tests.bench.rules

Figures are ratios of the best of several turns within one run, taken alternately, so that a busy machine slows both.
"""

import csv
import io
import random
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from kitshare.rules.heat_verdict import judge
from kitshare.rules.outlook import outlook
from kitshare.rules.readings import read_log

ROWS: Final = 200_000
TURNS: Final = 7
LOG_AIM: Final = 3.0


def log(form: str) -> bytes:
    """A log of one reading a second, as different loggers would write it."""
    dice = random.Random(3)
    lines = []
    for at in range(ROWS):
        clock = f"{at // 3600 % 24:02}:{at // 60 % 60:02}:{at % 60:02}"
        celsius = f"{20 + 60 * min(1, at / 100_000) + dice.random():.2f}"
        lines.append(
            {
                "minutes": f"{at / 60:.3f},{celsius}",
                "clock": f"{clock},{celsius}",
                "dated": f"2026-10-{3 + at // 86_400:02} {clock},{celsius}",
                "decimal comma": f"{3 + at // 86_400:02}.10.2026 {clock};{celsius.replace('.', ',')}",
            }[form]
        )
    return "\n".join(
        ["minute,temp C" if form == "minutes" else "time,temp C", *lines][form == "decimal comma" :]
    ).encode()


def by_csv(data: bytes) -> None:
    """The floor: the same bytes through the csv module, into rows."""
    delimiter = ";" if b";" in data[:200] else ","
    list(csv.reader(io.StringIO(data.decode(), newline=""), delimiter=delimiter))


def bare_plan() -> None:
    """The floor of a plan: the same numbers of multiplications and additions, batch by batch, nothing kept."""
    for crew in range(1, 7):
        free = [0.0] * 4
        for _cheese in range(10):
            at = 30.0
            for station in range(4):
                at = max(at, free[station]) + 60 * 40 / (100 + 20 * crew)
                free[station] = at
        bath = 0.0
        for batch in range(5):
            bath = max(bath, 40.0 * batch) + 120.0


def best(work: Callable[[], object], floor: Callable[[], object]) -> tuple[float, float]:
    """Best seconds of the work and of its floor, in turns."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _turn in range(TURNS):
        for times, call in zip(taken, (work, floor), strict=True):
            began = time.perf_counter()
            call()
            times.append(time.perf_counter() - began)
    return min(taken[0]), min(taken[1])


def say(what: str, took: float, floor: float, aim: str = "") -> None:
    """One line of the table."""
    print(f"{what:<28}{1000 * took:>10.2f}{1000 * floor:>10.2f}{took / floor:>8.2f}{aim}")  # noqa: T201


def main() -> None:
    print(f"{'work':<28}{'ms':>10}{'floor ms':>10}{'ratio':>8}")  # noqa: T201
    slow = False
    for form in ("minutes", "clock", "dated", "decimal comma"):
        data = log(form)
        took, floor = best(lambda data=data: read_log(data), lambda data=data: by_csv(data))
        slow |= took > LOG_AIM * floor
        say(f"log, {form}", took, floor, f"   aim under {LOG_AIM}")
        took, floor = best(lambda data=data: judge(read_log(data).log), lambda data=data: by_csv(data))
        say("    and a verdict on it", took, floor, f"   aim near {LOG_AIM}")
    took, floor = best(lambda: outlook(Decimal(400)), bare_plan)
    say("a plan of 400 kg", took, floor)
    if slow:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
