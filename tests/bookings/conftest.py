"""What tests of bookings ask for: a booking of the Heron mill, changed in whatever a test is about."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep.models import Fault


def september(start: int, end: int) -> Period:
    return Period(start=date(2027, 9, start), end=date(2027, 9, end))


@pytest.fixture
def ask(sorrelhythe, sunniva, season, mill, now, today):
    """Ask for the Heron mill for Sorrelhythe, Sat 11 to Mon 13 Sep, unless told otherwise."""

    def ask(**changes):
        asked = {
            "village": sorrelhythe,
            "borrower": sunniva,
            "machines": [mill],
            "period": september(11, 13),
            "fruit_amount": Decimal("20"),
            "fruit_unit": "crate",
            "note": "",
            "by": sunniva,
            "at": now,
            "today": today,
        }
        return bookings.book_kit(**(asked | changes))

    return ask


@pytest.fixture
def change(perpetua, now, today):
    """Change a booking, leaving all as it is but what is given."""

    def change(booking, **changes):
        asked = {
            "machines": list(booking.machines.all()),
            "period": booking.period,
            "fruit_amount": booking.fruit_amount,
            "fruit_unit": booking.fruit_unit,
            "note": booking.note,
            "by": perpetua,
            "at": now,
            "today": today,
            "revision": booking.revision,
        }
        return bookings.change_booking(booking=booking, **(asked | changes))

    return change


@pytest.fixture
def agreed(ask, perpetua, now, today):
    """An agreed booking, asked as `ask` does."""

    def agreed(**changes):
        booking = ask(**changes)
        return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)

    return agreed


@pytest.fixture
def set_aside(teodor, now):
    """Report a fault that stops use."""

    def set_aside(machine, note="The drive pin is bent.", at: datetime | None = None) -> Fault:
        return Fault.objects.create(
            machine=machine, note=note, severity=Severity.STOPS_USE, reported_by=teodor, reported_at=at or now
        )

    return set_aside
