"""Pages of the waiting list, seen on Wednesday the first of September 2027."""

import pytest
from django.utils import timezone

from tests.bookings.conftest import ask
from tests.bookings.waiters import ferrow, free, linnowby, taken, wait
from tests.web.bookings.conftest import send, typed

__all__ = ["ask", "ferrow", "free", "linnowby", "send", "taken", "typed", "wait"]


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    """The day on which the tests happen."""
    monkeypatch.setattr(timezone, "now", lambda: now)
