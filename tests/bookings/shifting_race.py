"""A race of shifts against bookings and moves, run as its own process against the database that DATABASE_URL names.

`python -m tests.bookings.shifting_race seed` lays out a scheme with bookings of one machine; `... run` lets processes
shift them, book days between them and move one of them at the same moments, several times. Each prints JSON.
"""

# ruff: noqa: PLC0415  models can be imported once Django is set up, and not before

import json
import multiprocessing
import os
import sys
import time
from datetime import date, timedelta
from decimal import Decimal

import django

ROUNDS = 3
TODAY = date.today()  # noqa: DTZ011
FIRST = TODAY + timedelta(days=20)
KINDS = ("shift", "shift", "book", "book", "move")


def seed() -> None:
    from django.core.management import call_command

    from kitshare.bookings.models import Season
    from kitshare.kits.models import Depot, Kit, Machine
    from kitshare.people.models import Member, Scheme, Village

    call_command("migrate", verbosity=0)
    Scheme.objects.create(pk=1, name="Race", telephone="01632 960 123")
    Season.objects.create(name="Race", opens_on=TODAY, closes_on=TODAY + timedelta(days=300))
    kit = Kit.objects.create(name="Heron", depot=Depot.objects.create(name="Shed"))
    Machine.objects.create(kit=kit, name="Heron mill", kind="mill", position=1)
    Machine.objects.create(kit=kit, name="Heron press", kind="press", position=2)
    borrower = Member.objects.create(name="Sunniva", email="sunniva@example.org", borrows=True)
    Member.objects.create(name="Perpetua", email="perpetua@example.org", coordinates=True)
    Village.objects.create(name="Sorrelhythe").borrowers.add(borrower)
    for number in range(3):
        book(FIRST + timedelta(days=4 * number), both=number != 1)
    print(json.dumps({}))  # noqa: T201


def book(start: date, *, both: bool) -> None:
    from django.utils import timezone

    from kitshare.bookings import actions as bookings
    from kitshare.kits.models import Machine
    from kitshare.people.models import Member, Village
    from kitshare.rules.periods import Period

    borrower = Member.objects.get(borrows=True)
    machines = list(Machine.objects.order_by("-pk"))  # not in the order in which they are locked
    bookings.book_kit(
        village=Village.objects.get(),
        borrower=borrower,
        machines=machines if both else machines[-1:],
        period=Period(start=start, end=start + timedelta(days=2)),
        fruit_amount=Decimal(100),
        fruit_unit="kg",
        note="",
        by=borrower,
        at=timezone.now(),
        today=TODAY,
    )


def shift(number: int) -> None:
    from django.utils import timezone

    from kitshare.bookings import shifting
    from kitshare.kits.models import Machine
    from kitshare.people.models import Member

    machine, by = Machine.objects.order_by("pk")[0], Member.objects.get(coordinates=True)
    asked = {"machine": machine, "by_days": 3 if number % 2 else -3, "from_day": TODAY, "by": by, "today": TODAY}
    seen = shifting.look_at_shift(**asked).seen
    shifting.shift_bookings(**asked, seen=seen, at=timezone.now())


def move() -> None:
    from django.utils import timezone

    from kitshare.bookings.models import Booking
    from kitshare.bookings.moving import move_booking
    from kitshare.people.models import Member

    booking = Booking.objects.order_by("pk")[1]
    by, period = Member.objects.get(coordinates=True), booking.period.shifted(1)
    move_booking(booking=booking, period=period, by=by, at=timezone.now(), today=TODAY, revision=booking.revision)


def act(kind: str, number: int, starts_at: float, results: "multiprocessing.Queue[str]") -> None:
    from django.db import connection

    from kitshare.bookings.refusals import BookingRefused

    connection.close()
    connection.ensure_connection()
    time.sleep(max(0.0, starts_at - time.time()))
    try:
        if kind == "shift":
            shift(number)
        elif kind == "move":
            move()
        else:
            book(FIRST + timedelta(days=number * 5 % 19), both=number % 2 == 0)
    except BookingRefused:
        results.put("refused")
    except Exception as error:
        results.put(f"{type(error).__name__}: {error}")
    else:
        results.put({"shift": "shifted", "move": "moved", "book": "booked"}[kind])


def run() -> None:
    from django.db import connections

    fork = multiprocessing.get_context("fork")
    ended = []
    for number in range(ROUNDS):
        connections.close_all()
        results = fork.Queue()
        starts_at = time.time() + 0.4
        racers = [
            fork.Process(target=act, args=(kind, number + place, starts_at, results))
            for place, kind in enumerate(KINDS)
        ]
        for racer in racers:
            racer.start()
        ended += [results.get(timeout=60) for _racer in racers]
        for racer in racers:
            racer.join(timeout=30)
    print(json.dumps({"ended": ended, "torn": torn()}))  # noqa: T201


def torn() -> list[str]:
    """Bookings whose rows are not exactly their days and a day of care for each machine."""
    from kitshare.bookings.models import Booking

    found = []
    for booking in Booking.objects.order_by("pk"):
        care = booking.back_on
        wanted = {(machine, day) for machine in booking.machines.all() for day in [*booking.period.days, care]}
        if {(row.machine, row.day) for row in booking.days.select_related("machine")} != wanted:
            found.append(str(booking))
    return found


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "kitshare.settings"
    django.setup()
    {"seed": seed, "run": run}[sys.argv[1]]()
