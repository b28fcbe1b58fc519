"""Bringing in while others book: each day goes to one, and a file is made whole or not at all.

With processes on both engines; and with threads on PostgreSQL, where more than one writer is let in at a time.
"""

import json
import subprocess
import sys
from collections import Counter
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
from tests.bookings.test_race import ROOT, environment
from tests.bringing import rivals
from tests.bringing.conftest import table

__all__ = ["ask", "environment"]

pytestmark = pytest.mark.race

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


def test_of_files_and_bookings_in_processes_of_their_own_one_is_made_whole(environment):
    done = subprocess.run(
        [sys.executable, "-m", "tests.bringing.rivals"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr

    report = json.loads(done.stdout)
    ended = Counter(report["ended"])
    assert ended["file made"] + ended["booking made"] == 1
    assert ended["NotAllFit"] + ended["MachineTaken"] == 2 * rivals.EACH - 1, report
    bookings = rivals.FILE_ROWS if ended["file made"] else 1
    assert (report["bookings"], report["days"]) == (bookings, bookings * 3)


@pytest.mark.django_db(transaction=True)
@pytest.mark.needs_postgresql
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


@pytest.mark.django_db(transaction=True)
@pytest.mark.needs_postgresql
def test_of_many_taps_on_one_file_one_makes_its_bookings(sent, season, sorrelhythe, mill, perpetua, now, today):
    file = sent(table(*(row_of(spell(number)) for number in range(3))))

    results = at_once(*[lambda: bringing.bring_in(brought=file, by=perpetua, at=now, today=today)] * 6)

    assert all(isinstance(one, BroughtFile) for one in results)
    assert Booking.objects.count() == 3


@pytest.mark.django_db(transaction=True)
@pytest.mark.needs_postgresql
def test_of_two_copies_of_a_file_one_is_made(sent, season, sorrelhythe, mill, perpetua, now, today):
    files = [sent(table(row_of(spell(0)), row_of(spell(1)))) for _copy in range(2)]

    at_once(*(lambda file=file: bringing.bring_in(brought=file, by=perpetua, at=now, today=today) for file in files))

    assert Booking.objects.count() == 2
    assert BroughtFile.objects.exclude(brought_at=None).count() == 1
