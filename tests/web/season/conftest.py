"""An agreed booking, and the moment at which feeds are fetched."""

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
