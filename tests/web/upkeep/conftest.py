"""A mill with a fault, and a booking of it made by the actions that make bookings."""

from datetime import date, datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault


@pytest.fixture(autouse=True)
def the_clock(monkeypatch, now):
    """Pages read the clock: it stands at half past nine on the first of September 2027."""
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def report(mill, sunniva, now):
    """Reports a fault of the mill, as Sunniva, unless told otherwise."""

    def report_it(**changes: object) -> Fault:
        facts = {"machine": mill, "part": None, "note": "It hums and does not turn.", "severity": Severity.STOPS_USE}
        return upkeep.report_fault(**(facts | {"by": sunniva, "at": now} | changes))

    return report_it


@pytest.fixture
def book(season, fennerlow, leilani, now: datetime, today: date):
    """Books machines for Fennerlow, one night from the day given."""

    def book_it(*machines, out_on: date, back_on: date) -> Booking:
        return bookings.book_kit(
            village=fennerlow,
            borrower=leilani,
            machines=machines,
            period=Period(start=out_on, end=back_on),
            fruit_amount=Decimal(400),
            fruit_unit="kg",
            note="",
            by=leilani,
            at=now,
            today=today,
        )

    return book_it
