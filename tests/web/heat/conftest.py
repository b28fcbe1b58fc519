"""What tests of the pages about heat share."""

import pytest


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, now):
    """The pages read the clock: it stands at half past nine on the first day of the booking."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
