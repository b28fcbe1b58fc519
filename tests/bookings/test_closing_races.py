"""Closing and booking, closing and arriving, at the same moment: real connections, so on PostgreSQL.

SQLite lets one writer in at a time.
"""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from django.db import connection

from kitshare.bookings import arriving, closing
from kitshare.bookings.models import BookedDay, Booking, ClosedKind, ClosedSpell, DayKind
from kitshare.bookings.refusals import MachineTaken
from tests.bookings.conftest import september

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]

ROUNDS = 8


@pytest.fixture(autouse=True)
def real_connections():
    if connection.vendor != "postgresql":
        pytest.skip("needs connections of their own for each thread: PostgreSQL")


def at_once(*deeds):
    """Do the deeds in threads of their own, started together; what each gave, or the refusal it raised."""
    start = Barrier(len(deeds))

    def run(deed):
        try:
            start.wait(5)
            return deed()
        except (MachineTaken, closing.ClosingRefused) as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(run, deeds))


@pytest.fixture
def close(depot, perpetua, now, today):
    def close(start: int, end: int):
        return closing.close_days(
            kind=ClosedKind.DEPOT,
            depot=depot,
            machines=[],
            first_day=date(2027, 9, start),
            last_day=date(2027, 9, end),
            reason="Roof repairs",
            by=perpetua,
            at=now,
            today=today,
        )

    return close


def test_of_rival_bookings_and_closings_each_day_goes_to_one(close, ask, mill, press, otter_mill):
    for number in range(ROUNDS):
        day = 3 + 3 * number
        both = september(day, day + 2)
        rivals = [lambda: close(day, day), lambda: ask(machines=[press, mill], period=both)] * 3  # noqa: B023

        results = at_once(*rivals)

        booked = [one for one in results if isinstance(one, Booking)]
        closed = [one for one in results if isinstance(one, ClosedSpell)]
        assert len(booked) <= 1
        assert bool(booked) != bool(closed)
        rows = set(BookedDay.objects.filter(day=both.start, machine=mill).values_list("kind", flat=True))
        assert rows == {DayKind.BOOKED if booked else DayKind.CLOSED}


def test_a_machine_that_arrives_while_its_depot_closes_is_closed_with_it(close, heron, mill, perpetua, now, today):
    for number in range(ROUNDS):
        day = 3 + 3 * number

        def add(number=number):
            return arriving.add_machine(kit=heron, name=f"Mill {number}", kind="mill", by=perpetua, at=now, today=today)

        added, _spell = at_once(add, lambda day=day: close(day, day))

        assert BookedDay.objects.filter(machine=added, day=date(2027, 9, day), kind=DayKind.CLOSED).count() == 1
