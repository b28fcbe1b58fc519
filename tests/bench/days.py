"""What the season asks of the database as the book grows: at a thousand, a hundred thousand and a million booked days.

    sh deploy/bench.sh

Twelve machines in four kits, each out for two days in seven with a day of care after. What the month shows is the same
at every size; only the history behind it is longer, into earlier centuries if need be. The rows are laid as such a
history would have left them, not by the actions. Every size has a database of its own and a process that asks it;
they take turns, so that a busy machine slows all of them. Figures are medians, and ratios to the smallest size.

A million rows are laid on PostgreSQL, where DATABASE_URL names a server on which a database may be made.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from datetime import date, timedelta
from typing import Any, Final

AIM: Final = 1.5
ROUNDS: Final = 60
WARM_UP: Final = 5
SIZES: Final = {"sqlite": (1_000, 100_000), "postgresql": (1_000, 100_000, 1_000_000)}
KITS: Final = 4
MACHINES: Final = 12
WEEK: Final = 7
CHUNK: Final = 2_000
TODAY: Final = date(2027, 9, 15)


def lay(days: int) -> None:
    """Lay so many booked days, the last of them five weeks from today."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from kitshare.bookings.models import BookedDay, Booking, Season  # noqa: PLC0415
    from kitshare.kits.models import Depot, Kit, Machine  # noqa: PLC0415
    from kitshare.people.models import Member, Scheme, Village  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    Scheme.objects.create(pk=1, name="Bench", telephone="01632 960 100")
    Season.objects.create(name="Now", opens_on=TODAY - timedelta(days=30), closes_on=TODAY + timedelta(days=60))
    member = Member.objects.create(name="Perpetua", email="perpetua@example.org", coordinates=True)
    villages = [Village.objects.create(name=f"Village {number}") for number in range(20)]
    depot = Depot.objects.create(name="Shed")
    kits = [Kit.objects.create(name=f"Kit {number}", depot=depot) for number in range(KITS)]
    machines = [
        Machine.objects.create(kit=kits[number % KITS], name=f"Machine {number}", kind="mill", position=number)
        for number in range(MACHINES)
    ]
    fields = {"borrower": member, "fruit_amount": 300, "fruit_kg": 300, "stage": "agreed"}
    fields |= {"asked_at": timezone.now(), "changed_at": timezone.now()}
    many = days // (3 * MACHINES // KITS)
    for first in range(many, 0, -CHUNK):  # the oldest first, as they were made
        bookings, rows = [], []
        for number in range(first, max(first - CHUNK, 0), -1):
            kit, key = number % KITS, many - number + 1
            out_on = TODAY + timedelta(days=35 - number // KITS * WEEK + kit)
            back_on = out_on + timedelta(days=2)
            bookings.append(Booking(pk=key, village=villages[number % 20], out_on=out_on, back_on=back_on, **fields))
            for machine in machines[kit::KITS]:
                for day, kind in enumerate(("booked", "booked", "care")):
                    rows.append(BookedDay(machine=machine, day=out_on + timedelta(days=day), kind=kind, booking_id=key))
        Booking.objects.bulk_create(bookings, batch_size=1_000)
        BookedDay.objects.bulk_create(rows, batch_size=5_000)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def questions() -> dict[str, Callable[[], object]]:
    """What is measured: the season page's two queries, and what asks for free days."""
    from django.db.models import Exists, OuterRef  # noqa: PLC0415

    from kitshare.bookings import days  # noqa: PLC0415
    from kitshare.bookings.models import BookedDay  # noqa: PLC0415
    from kitshare.kits.models import Machine  # noqa: PLC0415
    from kitshare.people.models import Member  # noqa: PLC0415
    from kitshare.rules.periods import Period  # noqa: PLC0415
    from kitshare.web.season.outings import booked_days, machines_with_state  # noqa: PLC0415
    from kitshare.web.season.views import month_of  # noqa: PLC0415

    member = Member.objects.get()
    machines = list(Machine.objects.select_related("kit").order_by("pk"))
    kit = [machine for machine in machines if machine.kit_id == machines[0].kit_id]
    month, wanted = month_of(TODAY), Period(start=TODAY, end=TODAY + timedelta(days=2))
    taken = BookedDay.objects.filter(machine=OuterRef("pk"), day__range=(wanted.start, wanted.end))
    return {
        "season page": lambda: (machines_with_state(TODAY), booked_days(month, member)),
        "nearest free days": lambda: days.nearest_free(machines=kit, wanted=wanted, today=TODAY),
        "free weekends": lambda: days.next_weekends(machines=kit, today=TODAY, count=4),
        "which machines are free": lambda: list(Machine.objects.in_use().filter(~Exists(taken))),
    }


def answer() -> None:
    """Lay the days that are asked for, then time a round of questions for each line that comes in."""
    import django  # noqa: PLC0415

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitshare.settings")
    django.setup()
    lay(int(sys.argv[2]))
    asked = questions()
    say({})
    for _line in sys.stdin:
        took = {}
        for name, ask in asked.items():
            began = time.perf_counter()
            ask()
            took[name] = (time.perf_counter() - began) * 1000
        say(took)


def say(words: dict[str, Any]) -> None:
    print(json.dumps(words), flush=True)  # noqa: T201


@contextmanager
def asked_of(size: int, environment: dict[str, str]) -> Iterator[Callable[[], dict[str, float]]]:
    """A process with a database of that size: called, it answers a round of questions."""
    command = [sys.executable, "-m", "tests.bench.days", "answer", str(size)]
    with subprocess.Popen(
        command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None

        def ask() -> dict[str, float]:
            process.stdin.write("\n")  # type: ignore[union-attr]
            process.stdin.flush()  # type: ignore[union-attr]
            line = process.stdout.readline()  # type: ignore[union-attr]
            if not line:
                raise SystemExit("The process that asks the database has ended.")
            took: dict[str, float] = json.loads(line)
            return took

        if not process.stdout.readline():
            raise SystemExit(f"{size:,} days could not be laid.")
        yield ask
        process.stdin.close()


@contextmanager
def database_of(engine: str, size: int) -> Iterator[dict[str, str]]:
    """An environment with an empty database of its own, gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        base = os.environ | {"KITSHARE_DATA": folder}
        if engine == "sqlite":
            yield base | {"DATABASE_URL": f"sqlite:///{folder}/days.sqlite3"}
            return
        import psycopg  # noqa: PLC0415

        server, name = os.environ["DATABASE_URL"], f"kitshare_bench_{os.getpid()}_{size}"
        with psycopg.connect(server, autocommit=True) as asked:
            asked.execute(f'CREATE DATABASE "{name}"')
        yield base | {"DATABASE_URL": urllib.parse.urlsplit(server)._replace(path=f"/{name}").geturl()}
        with psycopg.connect(server, autocommit=True) as asked:
            asked.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def measure(engine: str, sizes: Sequence[int], rounds: int) -> bool:
    """Print a table for one engine; whether every ratio keeps the aim."""
    taken: dict[int, list[dict[str, float]]] = {size: [] for size in sizes}
    with ExitStack() as open_ones:
        ask = {}
        for size in sizes:
            environment = open_ones.enter_context(database_of(engine, size))
            ask[size] = open_ones.enter_context(asked_of(size, environment))
        for turn in range(WARM_UP + rounds):
            for size in sizes:
                took = ask[size]()
                if turn >= WARM_UP:
                    taken[size].append(took)
    kept = True
    for name in taken[sizes[0]][0]:
        medians = {size: statistics.median(took[name] for took in taken[size]) for size in sizes}
        ratio = medians[sizes[-1]] / medians[sizes[0]]
        kept &= ratio <= AIM
        cells = "".join(f"{milliseconds:>12.2f}" for milliseconds in medians.values())
        print(f"{engine:<12}{name:<26}{cells}   ratio {ratio:.2f}")  # noqa: T201
    return kept


def main() -> None:
    parser = argparse.ArgumentParser(description="Queries as the book grows, as ratios to the smallest.")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--sizes", type=int, nargs="+", help="how many booked days, on every engine")
    asked = parser.parse_args()
    engines = ["sqlite"]
    if os.environ.get("DATABASE_URL", "").startswith("postgres"):
        engines.append("postgresql")
    columns = "".join(f"{size:>12,}" for size in asked.sizes or SIZES["postgresql"])
    print(f"{'engine':<12}{'question, median ms':<26}{columns}")  # noqa: T201
    print(f"{'':<12}booked days; the last to the first, aim under {AIM}")  # noqa: T201
    kept = [measure(engine, asked.sizes or SIZES[engine], asked.rounds) for engine in engines]
    if "postgresql" not in engines:
        print("Not run: PostgreSQL and its million days. Name a server in DATABASE_URL.")  # noqa: T201
    if not all(kept):
        raise SystemExit(f"Slower than {AIM} times the smallest.")


if __name__ == "__main__":
    answer() if sys.argv[1:2] == ["answer"] else main()
