"""Bringing in while others book: each day goes to one, and a file is made whole or not at all.

On PostgreSQL with real connections. SQLite lets one writer in at a time: there the same deeds follow on each other.
"""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from django.db import connection

from kitshare.bookings.models import BookedDay, Booking
from kitshare.bookings.refusals import BookingRefused
from kitshare.bringing import actions as bringing
from kitshare.bringing.models import BroughtFile
from kitshare.rules.periods import Period
from tests.bookings.conftest import ask
from tests.bringing.conftest import table

__all__ = ["ask"]

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]

ROUNDS = 6


def at_once(*deeds):
    """Do the deeds in threads of their own, started together; what each gave, or the refusal it raised."""
    start = Barrier(len(deeds))

    def run(deed):
        try:
            start.wait(5)
            return deed()
        except BookingRefused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(run, deeds))


def spell(number: int) -> Period:
    first = date(2027, 9, 4) + timedelta(days=4 * number)
    return Period(start=first, end=first + timedelta(days=2))


def row_of(period: Period, **changes) -> dict[str, str]:
    return {"out_on": period.start.isoformat(), "back_on": period.end.isoformat(), **changes}


def test_of_a_file_and_a_booking_for_the_same_days_one_wins_and_nothing_is_half_made(
    sent, ask, fennerlow, otter_mill, perpetua, now, today
):
    for number in range(ROUNDS):
        period = spell(number)
        file = sent(table(row_of(period, village="Fennerlow", machines="Otter mill"), row_of(period)))

        def bring(file=file):
            return bringing.bring_in(brought=file, by=perpetua, at=now, today=today)

        results = at_once(bring, lambda period=period: ask(period=period))

        [brought, asked] = results
        assert isinstance(brought, BroughtFile) != isinstance(asked, Booking)
        made = Booking.objects.filter(out_on=period.start).count()
        assert made == (2 if isinstance(brought, BroughtFile) else 1)
        assert BookedDay.objects.filter(day=period.start).count() == made


def test_of_many_taps_on_one_file_one_makes_its_bookings(sent, season, sorrelhythe, mill, perpetua, now, today):
    file = sent(table(*(row_of(spell(number)) for number in range(3))))

    results = at_once(*[lambda: bringing.bring_in(brought=file, by=perpetua, at=now, today=today)] * 6)

    assert all(isinstance(one, BroughtFile) for one in results)
    assert Booking.objects.count() == 3


def test_of_two_copies_of_a_file_one_is_made(sent, season, sorrelhythe, mill, perpetua, now, today):
    files = [sent(table(row_of(spell(0)), row_of(spell(1)))) for _copy in range(2)]

    at_once(*(lambda file=file: bringing.bring_in(brought=file, by=perpetua, at=now, today=today) for file in files))

    assert Booking.objects.count() == 2
    assert BroughtFile.objects.exclude(brought_at=None).count() == 1
