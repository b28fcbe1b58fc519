"""Two hundred requests for one weekend, while others change, move, agree and call off: each racer a process of its own.

`python -m tests.bookings.rivals seed`, then `run`, against the database that DATABASE_URL names; `run` prints JSON with
how each request ended and with every promise that is broken afterwards. It is no test module, as `race` is none.
"""

# ruff: noqa: PLC0415  models can be imported once Django is set up, and not before

import json
import multiprocessing
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import django

ASKERS, EACH_ASKS = 20, 10  # two hundred requests
MOVERS, EACH_MOVES = 4, 10
KITS, MACHINES = 2, 2
TODAY = date.today()  # noqa: DTZ011
WEEKEND = TODAY + timedelta(days=14)


def seed() -> None:
    from django.core.management import call_command

    from kitshare.bookings.models import Season
    from kitshare.kits.models import Depot, Kit, Machine
    from kitshare.people.models import Member, Scheme, Village

    call_command("migrate", verbosity=0)
    Scheme.objects.create(pk=1, name="Rivals", telephone="01632 960 123")
    Season.objects.create(name="Rivals", opens_on=TODAY, closes_on=TODAY + timedelta(days=90))
    depot = Depot.objects.create(name="Shed")
    for kit_number in range(KITS):
        kit = Kit.objects.create(name=f"Kit {kit_number}", depot=depot, care_days=kit_number)
        for number in range(MACHINES):
            Machine.objects.create(kit=kit, name=f"Machine {kit_number}{number}", kind="mill", position=number)
    Member.objects.create(name="Perpetua", email="p@example.org", coordinates=True)
    for number in range(ASKERS + MOVERS):
        member = Member.objects.create(name=f"Rival {number}", email=f"rival{number}@example.org", borrows=True)
        village = Village.objects.create(name=f"Village {number}")
        village.borrowers.add(member)
    print("{}")  # noqa: T201


def racer(number: int, starts_at: float, results: "multiprocessing.Queue[list[str]]") -> None:
    """Ask or move as one village, or act as the coordinator, and report how each deed ended."""
    from django.db import connection

    from kitshare.bookings.refusals import BookingRefused

    connection.close()
    draw = random.Random(number)
    deeds = _asks(number, draw) if number < ASKERS else _moves(number, draw)
    ended = []
    time.sleep(max(0.0, starts_at - time.time()))
    for deed in deeds:
        try:
            ended.append(deed())
        except BookingRefused as refusal:
            ended.append(type(refusal).__name__)
        except Exception as error:
            ended.append(f"broken: {type(error).__name__}: {error}")
    results.put(ended)


def _weekend(draw: random.Random) -> Any:
    """A spell that takes in the weekend or lies next to it."""
    from kitshare.rules.periods import Period

    start = WEEKEND + timedelta(days=draw.randint(-1, 1))
    return Period(start=start, end=start + timedelta(days=draw.randint(1, 2)))


def _some_machines(draw: random.Random) -> list[Any]:
    from kitshare.kits.models import Machine

    # In any order: the deed itself puts the locks in order.
    return draw.sample(list(Machine.objects.order_by("pk")), draw.randint(1, 3))


def _own(number: int) -> Any:
    from kitshare.people.models import Village

    return Village.objects.order_by("pk")[number]


def _ask(number: int, machines: list[Any], period: Any) -> Any:
    from django.utils import timezone

    from kitshare.bookings import actions as bookings

    village = _own(number)
    borrower = village.borrowers.get()
    return bookings.book_kit(
        village=village,
        borrower=borrower,
        machines=machines,
        period=period,
        fruit_amount=Decimal(100),
        fruit_unit="kg",
        note="",
        by=borrower,
        at=timezone.now(),
        today=TODAY,
    )


def _asks(number: int, draw: random.Random) -> list[Callable[[], str]]:
    """Most that is asked for is called off again, so that the weekend does not just fill up."""
    from django.utils import timezone

    from kitshare.bookings import actions as bookings

    def ask() -> str:
        booking = _ask(number, _some_machines(draw), _weekend(draw))
        if draw.random() < 0.8:
            time.sleep(draw.uniform(0, 0.05))  # long enough for it to be agreed meanwhile
            booking.refresh_from_db()
            bookings.call_off(
                booking=booking,
                reason="",
                by=booking.borrower,
                at=timezone.now(),
                revision=booking.revision,
            )
            return "asked and called off"
        return "asked"

    return [ask] * EACH_ASKS


def _moves(number: int, draw: random.Random) -> list[Callable[[], str]]:
    """The coordinator's deeds: agree what is asked and think better of it, and move an own booking between quiet days and the weekend."""
    from django.utils import timezone

    from kitshare.bookings import actions as bookings
    from kitshare.bookings.models import Booking, Stage
    from kitshare.people.models import Member, Village
    from kitshare.rules.periods import Period

    quiet = WEEKEND + timedelta(days=30 + 5 * (number - ASKERS))
    own = _ask(number, _some_machines(draw), Period(start=quiet, end=quiet + timedelta(days=2)))
    coordinator = Member.objects.get(coordinates=True)
    askers = list(Village.objects.order_by("pk")[:ASKERS])

    def agree() -> str:
        asked = list(Booking.objects.filter(stage=Stage.ASKED, village__in=askers).order_by("pk"))
        if not asked:
            return "nothing to agree"
        one = draw.choice(asked)
        bookings.agree(booking=one, by=coordinator, at=timezone.now(), today=TODAY, revision=one.revision)
        one.refresh_from_db()
        bookings.call_off(booking=one, reason="", by=coordinator, at=timezone.now(), revision=one.revision)
        return "agreed and called off"

    def move() -> str:
        own.refresh_from_db()
        before = _rows(own)
        wanted = (
            _weekend(draw)
            if own.out_on >= quiet
            else Period(start=quiet, end=quiet + timedelta(days=draw.randint(1, 3)))
        )
        try:
            bookings.change_booking(
                booking=own,
                machines=_some_machines(draw),
                period=wanted,
                fruit_amount=own.fruit_amount,
                fruit_unit=own.fruit_unit,
                note=own.note,
                by=coordinator,
                at=timezone.now(),
                today=TODAY,
                revision=own.revision,
            )
        except Exception:
            if _rows(own) != before:
                return "broken: refused, and the old days are not held"
            raise
        return "moved"

    return [deed for _round in range(EACH_MOVES) for deed in (move, agree)]


def _rows(booking: Any) -> set[tuple[int, date]]:
    return set(booking.days.values_list("machine_id", "day"))


def broken_promises() -> list[str]:
    """What is not as it should be when all is quiet again."""
    from kitshare.bookings.models import HOLDING, BookedDay, Booking
    from kitshare.logbook.models import Entry
    from kitshare.rules import periods

    wrong = []
    twice = [pair for pair, times in Counter(BookedDay.objects.values_list("machine_id", "day")).items() if times > 1]
    wrong += [f"held twice: {pair}" for pair in twice]
    for booking in Booking.objects.prefetch_related("machines__kit"):
        held = _rows(booking)
        due = (
            {(machine.pk, day) for machine in booking.machines.all() for day in _days(booking, machine, periods)}
            if booking.stage in HOLDING
            else set()
        )
        if held != due:
            wrong.append(f"{booking} is {booking.stage} and holds {len(held)} days, not {len(due)}")
        lines = Entry.objects.about(booking).filter(deed__startswith="booking_").count()
        if lines != booking.revision:
            wrong.append(f"{booking} has {lines} lines in the logbook at revision {booking.revision}")
    return wrong


def _days(booking: Any, machine: Any, periods: Any) -> Any:
    return periods.held_days(booking.period, machine.kit.care_days)


def run() -> None:
    from django.db import connections

    connections.close_all()
    fork = multiprocessing.get_context("fork")
    results = fork.Queue()
    starts_at = time.time() + 1.5
    racers = [fork.Process(target=racer, args=(number, starts_at, results)) for number in range(ASKERS + MOVERS)]
    for one in racers:
        one.start()
    ended = Counter(how for _racer in racers for how in results.get(timeout=240))
    for one in racers:
        one.join(timeout=30)
    print(json.dumps({"ended": ended, "wrong": broken_promises()}))  # noqa: T201


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "kitshare.settings"
    django.setup()
    {"seed": seed, "run": run}[sys.argv[1]]()
