"""Bookings as the season shows them, and the moment at which feeds are fetched."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.rules.periods import Period


@pytest.fixture
def booking(season, sorrelhythe, sunniva, mill, press, now, today):
    return bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill, press],
        period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
        fruit_amount=Decimal(300),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )


@pytest.fixture
def agreed(booking, perpetua, now, today):
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)


@pytest.fixture
def clock(monkeypatch, now):
    """The moment at which feeds are fetched; tests move it."""

    class Clock:
        at = now + timedelta(hours=1)

    monkeypatch.setattr("kitshare.web.season.feeds.timezone.now", lambda: Clock.at)
    return Clock


@pytest.fixture
def book_days(season, now, today):
    """Ask for machines from a day on."""

    def book_days(village, borrower, machines, start: date, days: int = 2):
        return bookings.book_kit(
            village=village,
            borrower=borrower,
            machines=machines,
            period=Period(start=start, end=start + timedelta(days=days)),
            fruit_amount=Decimal(300),
            fruit_unit="kg",
            note="",
            by=borrower,
            at=now,
            today=today,
        )

    return book_days


@pytest.fixture
def book(book_days):
    """The same in September: `book(sorrelhythe, sunniva, [mill], 11)`."""

    def book(village, borrower, machines, first: int, days: int = 2):
        return book_days(village, borrower, machines, date(2027, 9, first), days)

    return book
