"""What goes wrong around a site. Processes and servers are a test's own."""

import pytest
from django.utils import timezone

from tests.web.bookings.conftest import send, typed

__all__ = ["send", "typed"]


@pytest.fixture
def first_of_september(monkeypatch, now):
    """The day on which a form of these tests is sent."""
    monkeypatch.setattr(timezone, "now", lambda: now)
