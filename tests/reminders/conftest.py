"""What tests of reminders ask for: bookings at the stage that a reminder is about, and moments in words."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault


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
        return upkeep.report_fault(
            machine=machine, part=None, note=note, severity=Severity.STOPS_USE, by=teodor, at=now
        )

    return stop


@pytest.fixture
def grade(teodor, now):
    """A fault is judged anew: `grade(fault, Severity.USE_WITH_CARE)`."""

    def grade(fault: Fault, severity: Severity) -> Fault:
        fault.refresh_from_db()
        reason = "Looked again."
        return upkeep.regrade_fault(
            fault=fault, severity=severity, reason=reason, by=teodor, at=now, revision=fault.revision
        )

    return grade


@pytest.fixture
def release(teodor, perpetua, now):
    """A fault is mended, retested and released."""

    def release(fault: Fault) -> None:
        mended = upkeep.mend_fault(fault=fault, note="Straightened.", by=teodor, at=now, revision=fault.revision)
        upkeep.release_fault(fault=mended, retest_note="Ran an hour.", by=perpetua, at=now, revision=mended.revision)

    return release


@pytest.fixture
def ask_for_more(otter_mill, fennerlow, leilani, now, today):
    """So many more bookings that are asked for, of so many nights each, so many days apart."""

    def ask_for_more(number, *, first, apart, nights=1):
        starts = [first + timedelta(days=apart * turn) for turn in range(number)]
        return [
            bookings.book_kit(
                village=fennerlow,
                borrower=leilani,
                machines=[otter_mill],
                period=Period(start=start, end=start + timedelta(days=nights)),
                fruit_amount=Decimal(100),
                fruit_unit="kg",
                note="",
                by=leilani,
                at=now,
                today=today,
            )
            for start in starts
        ]

    return ask_for_more


@pytest.fixture
def promise_more(ask_for_more, perpetua, now, today):
    """The same, agreed."""

    def promise_more(number, *, first, apart):
        for asked in ask_for_more(number, first=first, apart=apart):
            bookings.agree(booking=asked, by=perpetua, at=now, today=today, revision=asked.revision)

    return promise_more
