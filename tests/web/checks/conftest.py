"""What tests of the check pages ask for: the clock at the first of September, and sheets as a phone sends them."""

import uuid

import pytest
from django.urls import reverse


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def parts(drive_pin, guard, lead, cloths, sanitiser):
    return [drive_pin, guard, lead, cloths, sanitiser]


@pytest.fixture
def filled(parts):
    """A sheet with everything sound and all there, changed in whatever a test is about; None takes an answer away."""

    def filled(*, on=None, **changes):
        sheet = {f"p{part.pk}-seen": "all" for part in on or parts}
        sheet |= {"key": str(uuid.uuid4()), "signed_name": "Sunniva Okparadine", "signed_role": "borrower", "note": ""}
        sheet |= changes
        return {name: value for name, value in sheet.items() if value is not None}

    return filled


@pytest.fixture
def other():
    """The answers for one part at which something is not right."""

    def other(part, condition: str, **more):
        answers = {"seen": "other", "condition": condition} | more
        return {f"p{part.pk}-{name}": value for name, value in answers.items()}

    return other


@pytest.fixture
def pickup_address(agreed_booking):
    return reverse("checks:pickup", args=[agreed_booking.pk])


@pytest.fixture
def return_address(agreed_booking):
    return reverse("checks:return", args=[agreed_booking.pk])


@pytest.fixture
def picked_up(signed_in, sunniva, filled, pickup_address):
    """Hand the kit over by the page."""

    def picked_up(**changes):
        return signed_in(sunniva).post(pickup_address, filled(**changes))

    return picked_up
