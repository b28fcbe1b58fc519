"""What tests of reminders ask for: bookings at the stage that a reminder is about, and moments in words."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep.models import Fault, FaultStage


def on(day: int, hour: int = 9, minute: int = 0) -> datetime:
    """A moment in September 2027."""
    return datetime(2027, 9, day, hour, minute, tzinfo=UTC)


@pytest.fixture
def asked(sorrelhythe, sunniva, perpetua, season, mill, now, today):
    """Sorrelhythe has asked for the Heron mill, Sat 11 to Mon 13 September."""
    return bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill],
        period=Period(start=on(11).date(), end=on(13).date()),
        fruit_amount=Decimal("400"),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )


@pytest.fixture
def agreed(asked, perpetua, now, today):
    return bookings.agree(booking=asked, by=perpetua, at=now, today=today, revision=asked.revision)


@pytest.fixture
def out(agreed, sunniva):
    return bookings.mark_out(booking=agreed, by=sunniva, at=on(11))


@pytest.fixture
def stop(teodor, now):
    """A machine is set aside: `stop(mill)`."""

    def stop(machine, note="The drive pin is bent.") -> Fault:
        return Fault.objects.create(
            machine=machine, note=note, severity=Severity.STOPS_USE, reported_by=teodor, reported_at=now
        )

    return stop


@pytest.fixture
def release(teodor, now):
    def release(fault: Fault) -> None:
        fault.stage, fault.released_by, fault.released_at = FaultStage.RELEASED, teodor, now
        fault.save()

    return release
