"""A race for one machine and one weekend, run as its own process against the database that DATABASE_URL names.

`python -m tests.bookings.race seed` lays out a scheme with as many villages as racers, each borrower signed in;
`python -m tests.bookings.race run` lets one process a racer ask at the same moment. Each prints JSON.
It is no test module: a test database shares one connection, and here every process has its own.
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

RACERS = 32
TODAY = date.today()  # noqa: DTZ011
OUT_ON, BACK_ON = TODAY + timedelta(days=7), TODAY + timedelta(days=9)


def seed() -> None:
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
    from django.contrib.sessions.backends.db import SessionStore
    from django.core.management import call_command

    from kitshare.bookings.models import Season
    from kitshare.kits.models import Depot, Kit, Machine
    from kitshare.people.models import Member, Scheme, Village

    call_command("migrate", verbosity=0)
    Scheme.objects.create(pk=1, name="Race", telephone="01632 960 123")
    Season.objects.create(name="Race", opens_on=TODAY, closes_on=TODAY + timedelta(days=60))
    kit = Kit.objects.create(name="Heron", depot=Depot.objects.create(name="Shed"))
    machine = Machine.objects.create(kit=kit, name="Heron mill", kind="mill")
    racers = []
    for number in range(RACERS):
        member = Member(name=f"Racer {number}", email=f"racer{number}@example.org", borrows=True)
        member.set_unusable_password()
        member.save()
        village = Village.objects.create(name=f"Village {number}")
        village.borrowers.add(member)
        session = SessionStore()
        session[SESSION_KEY] = str(member.pk)
        session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
        session[HASH_SESSION_KEY] = member.get_session_auth_hash()
        session.create()
        racers.append({"village": village.pk, "member": member.pk, "session": session.session_key})
    print(json.dumps({"machine": machine.pk, "racers": racers}))  # noqa: T201


def ask(village_key: int, starts_at: float, results: "multiprocessing.Queue[tuple[str, float]]") -> None:
    """Ask as the village's borrower, and report how it ended and how long it took."""
    from django.db import connection
    from django.utils import timezone

    from kitshare.bookings import actions as bookings
    from kitshare.bookings.refusals import MachineTaken
    from kitshare.kits.models import Machine
    from kitshare.people.models import Village
    from kitshare.rules.periods import Period

    connection.close()
    village = Village.objects.get(pk=village_key)
    borrower = village.borrowers.get()
    machines = list(Machine.objects.all())
    time.sleep(max(0.0, starts_at - time.time()))
    began = time.perf_counter()
    try:
        bookings.book_kit(
            village=village,
            borrower=borrower,
            machines=machines,
            period=Period(start=OUT_ON, end=BACK_ON),
            fruit_amount=Decimal(100),
            fruit_unit="kg",
            note="",
            by=borrower,
            at=timezone.now(),
            today=TODAY,
        )
    except MachineTaken as taken:
        told = taken.taken[0].booking is not None and len(taken.nearest) == 3
        ended = "told who has it" if told else f"told too little: {taken}"
    except Exception as error:
        ended = f"{type(error).__name__}: {error}"
    else:
        ended = "won"
    results.put((ended, time.perf_counter() - began))


def run() -> None:
    from django.db import connections

    from kitshare.bookings.models import BookedDay, Booking
    from kitshare.people.models import Village

    villages = list(Village.objects.order_by("pk").values_list("pk", flat=True))
    connections.close_all()
    fork = multiprocessing.get_context("fork")
    results = fork.Queue()
    starts_at = time.time() + 1.5
    racers = [fork.Process(target=ask, args=(village, starts_at, results)) for village in villages]
    for racer in racers:
        racer.start()
    ended = [results.get(timeout=120) for _racer in racers]
    for racer in racers:
        racer.join(timeout=30)
    report = {
        "ended": [how for how, _seconds in ended],
        "slowest_seconds": max(seconds for _how, seconds in ended),
        "bookings": Booking.objects.count(),
        "days": BookedDay.objects.count(),
    }
    print(json.dumps(report))  # noqa: T201


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "kitshare.settings"
    django.setup()
    {"seed": seed, "run": run}[sys.argv[1]]()
