"""A file against bookings for one of its days, each in a process of its own, on the database that DATABASE_URL names.

`python -m tests.bringing.rivals` lays out a scheme, lets them start at one moment, and prints JSON. It is no test
module: a test database shares one connection, and here every process has its own.
"""

# ruff: noqa: PLC0415  models can be imported once Django is set up, and not before

import json
import multiprocessing
import os
import time
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import django

TODAY = date.today()  # noqa: DTZ011
OUT_ON, BACK_ON = TODAY + timedelta(days=7), TODAY + timedelta(days=9)
EACH = 3
FILE_ROWS = 3


def seed() -> None:
    from django.core.management import call_command

    from kitshare.bookings.models import Season
    from kitshare.kits.models import Depot, Kit, Machine
    from kitshare.people.models import Member, Scheme, Village

    call_command("migrate", verbosity=0)
    Scheme.objects.create(pk=1, name="Race", telephone="01632 960 123")
    Season.objects.create(name="Race", opens_on=TODAY, closes_on=TODAY + timedelta(days=60))
    depot = Depot.objects.create(name="Shed")
    for name in ("Heron", "Otter", "Wren"):
        Machine.objects.create(kit=Kit.objects.create(name=name, depot=depot), name=f"{name} mill", kind="mill")
    member = Member.objects.create(name="Sunniva Okparadine", borrows=True, coordinates=True)
    Village.objects.create(name="Sorrelhythe").borrowers.add(member)


def bring(number: int) -> str:
    """Each file has a note of its own and rows of the same days: only one of all of them can be made."""
    from django.utils import timezone

    from kitshare.bringing import actions as bringing
    from kitshare.bringing.reading import read
    from kitshare.people.models import Member

    lines = ["Reference,Village,Machines,Goes out on,Back by the morning of,Fruit"]
    lines += [f"{number} {kit},Sorrelhythe,{kit},{OUT_ON},{BACK_ON},100" for kit in ("Wren", "Otter", "Heron")]
    member, at = Member.objects.get(), timezone.now()
    file = bringing.keep(
        name="race",
        digest="",
        sheet=read("\n".join(lines).encode(), zone=ZoneInfo("UTC")),
        coming_as="agreed",
        telling="nobody",
        fruit_kg=None,
        by=member,
        at=at,
    )
    bringing.bring_in(brought=file, by=member, at=at, today=TODAY)
    return "file made"


def ask(_number: int) -> str:
    from django.utils import timezone

    from kitshare.bookings import actions as bookings
    from kitshare.kits.models import Machine
    from kitshare.people.models import Member, Village
    from kitshare.rules.periods import Period

    member = Member.objects.get()
    bookings.book_kit(
        village=Village.objects.get(),
        borrower=member,
        machines=[Machine.objects.get(name="Heron mill")],
        period=Period(start=OUT_ON, end=BACK_ON),
        fruit_amount=Decimal(100),
        fruit_unit="kg",
        note="",
        by=member,
        at=timezone.now(),
        today=TODAY,
    )
    return "booking made"


def one(deed: Callable[[int], str], number: int, starts_at: float, results: "multiprocessing.Queue[str]") -> None:
    from kitshare.bookings.refusals import BookingRefused

    time.sleep(max(0.0, starts_at - time.time()))
    try:
        results.put(deed(number))
    except BookingRefused as refusal:
        results.put(type(refusal).__name__)
    except Exception as error:
        results.put(f"{type(error).__name__}: {error}")


def run() -> None:
    from django.db import connections

    from kitshare.bookings.models import BookedDay, Booking

    seed()
    connections.close_all()
    fork = multiprocessing.get_context("fork")
    results = fork.Queue()
    starts_at = time.time() + 0.5
    deeds = [(deed, number) for number in range(EACH) for deed in (bring, ask)]
    racers = [fork.Process(target=one, args=(deed, number, starts_at, results)) for deed, number in deeds]
    for racer in racers:
        racer.start()
    ended = [results.get(timeout=60) for _racer in racers]
    for racer in racers:
        racer.join(timeout=30)
    print(json.dumps({"ended": ended, "bookings": Booking.objects.count(), "days": BookedDay.objects.count()}))  # noqa: T201


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "kitshare.settings"
    django.setup()
    run()
