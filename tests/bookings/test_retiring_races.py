"""Retiring and booking at the same moment. With real connections, so on PostgreSQL; SQLite lets one writer in at a time."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event
from time import sleep

import pytest
from django.db import connection, transaction

from kitshare.bookings import retiring
from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import MachineRetired

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]


@pytest.fixture(autouse=True)
def real_connections():
    if connection.vendor != "postgresql":
        pytest.skip("needs connections of their own for each thread: PostgreSQL")


@pytest.mark.parametrize("what", ["kit", "machine"])
def test_a_booking_that_waits_for_a_retirement_is_refused(what, heron, mill, ask, perpetua, now, today):
    retired, who = Event(), {"by": perpetua, "at": now, "today": today}

    def retire_slowly():
        try:
            with transaction.atomic():
                if what == "kit":
                    retiring.retire_kit(kit=heron, **who)
                else:
                    retiring.retire_machine(machine=mill, **who)
                retired.set()
                sleep(0.5)
        finally:
            connection.close()

    def book():
        retired.wait(5)
        try:
            ask()
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as threads:
        retiring_it, booking_it = threads.submit(retire_slowly), threads.submit(book)

        retiring_it.result()
        with pytest.raises(MachineRetired):
            booking_it.result()

    assert not Booking.objects.exists()
