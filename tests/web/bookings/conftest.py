"""Pages of bookings, seen on Wednesday the first of September 2027."""

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.bookings.conftest import agreed, ask, change, set_aside

__all__ = ["agreed", "ask", "change", "set_aside"]


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    """The day on which the tests happen."""
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def typed(sorrelhythe, sunniva, mill, season):
    """What a borrower types to ask for the Heron mill, Sat 11 to Mon 13 Sep."""

    def typed(**changes):
        fields = {
            "for_whom": f"{sorrelhythe.pk}-{sunniva.pk}",
            "machines": [str(mill.pk)],
            "spell": "typed",
            "out_on": "2027-09-11",
            "back_on": "2027-09-13",
            "fruit_amount": "20",
            "fruit_unit": "crate",
            "note": "",
            "key": "7a0d7f1e-31b1-4c5e-9d6c-1f2b6f0f8a11",
            "deed": "look_over",
        }
        return fields | changes

    return typed


@pytest.fixture
def send(signed_in, sunniva):
    """Press a button of the new-booking form."""

    def send(fields, by=None):
        return signed_in(by or sunniva).post(reverse("bookings:new"), fields)

    return send
