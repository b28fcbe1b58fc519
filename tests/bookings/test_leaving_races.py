"""Booking while a season shrinks, a village leaves or an account is closed: the one who comes second sees the first.

With real connections, so on PostgreSQL; SQLite lets one writer in at a time.
"""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from django.db import connection

from kitshare.bookings import leaving, seasons, signing
from kitshare.bookings.models import Booking, Season
from kitshare.bookings.refusals import BookingRefused
from kitshare.people.refusals import PeopleRefused
from tests.bookings.conftest import september
from tests.bookings.test_signing import keep

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]

ROUNDS = 6
REFUSALS = (BookingRefused, seasons.SeasonRefused, leaving.VillageHoldsKit, PeopleRefused)


@pytest.fixture(autouse=True)
def real_connections():
    if connection.vendor != "postgresql":
        pytest.skip("needs connections of their own for each thread: PostgreSQL")


def one_of(*deeds):
    """Do two deeds at once of which only one can stand; which did."""
    start = Barrier(len(deeds))

    def run(deed):
        try:
            start.wait(5)
            deed()
        except REFUSALS:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(len(deeds)) as threads:
        stood = list(threads.map(run, deeds))
    assert sum(stood) == 1, stood
    return stood.index(True)


def test_no_booking_slips_past_a_shrinking_season(ask, mill, season, perpetua, now):
    for day in range(3, 3 + ROUNDS):
        Booking.objects.all().delete()
        Season.objects.filter(pk=season.pk).update(closes_on=date(2027, 11, 30))

        one_of(
            lambda day=day: ask(machines=[mill], period=september(day, day + 2)),
            lambda day=day: seasons.change_season(
                season=season,
                name=season.name,
                opens_on=season.opens_on,
                closes_on=date(2027, 9, day),
                by=perpetua,
                at=now,
            ),
        )


def test_no_booking_slips_past_a_village_that_leaves(ask, mill, sorrelhythe, perpetua, now, today):
    for day in range(3, 3 + ROUNDS):
        Booking.objects.all().delete()
        type(sorrelhythe).objects.update(left_on=None)

        one_of(
            lambda day=day: ask(machines=[mill], period=september(day, day + 2)),
            lambda: leaving.let_village_leave(village=sorrelhythe, on=today, by=perpetua, at=now),
        )


def test_no_booking_slips_past_an_account_that_is_closed(ask, mill, sunniva, perpetua, now):
    for day in range(3, 3 + ROUNDS):
        Booking.objects.all().delete()
        type(sunniva).objects.filter(pk=sunniva.pk).update(is_active=True)

        one_of(
            lambda day=day: ask(machines=[mill], period=september(day, day + 2)),
            lambda: signing.change_member(**keep(sunniva, is_active=False), by=perpetua, at=now),
        )
