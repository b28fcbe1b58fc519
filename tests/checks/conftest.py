"""What tests of checks ask for: the parts of the booked machines, and each deed with the usual answers filled in."""

from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings import relays
from kitshare.checks import actions as checks
from kitshare.checks import relaying
from kitshare.rules.periods import Period
from tests.checks.sheets import signed, sound


@pytest.fixture
def parts(drive_pin, guard, lead, cloths, sanitiser):
    return [drive_pin, guard, lead, cloths, sanitiser]


@pytest.fixture
def all_sound(parts):
    return sound(*parts)


@pytest.fixture
def pick_up(agreed_booking, all_sound, sunniva, now, today):
    """The pickup check of the agreed booking, all sound unless told otherwise."""

    def pick_up(**changes):
        asked = {
            "booking": agreed_booking,
            "seen": all_sound,
            "signature": signed(),
            "by": sunniva,
            "at": now,
            "today": today,
        }
        return checks.complete_pickup_check(**(asked | changes))

    return pick_up


@pytest.fixture
def stop(agreed_booking, all_sound, sunniva, now, today):
    def stop(**changes):
        asked = {
            "booking": agreed_booking,
            "seen": all_sound,
            "signature": signed(),
            "by": sunniva,
            "at": now,
            "today": today,
        }
        return checks.stop_pickup(**(asked | changes))

    return stop


@pytest.fixture
def bring_back(agreed_booking, all_sound, sunniva, now, today):
    """The return check of a booking that is out."""

    def bring_back(**changes):
        asked = {
            "booking": agreed_booking,
            "seen": all_sound,
            "signature": signed(),
            "by": sunniva,
            "at": now,
            "today": today,
        }
        return checks.complete_return_check(**(asked | changes))

    return bring_back


@pytest.fixture
def relay(pick_up, agreed_booking, mill, press, fennerlow, leilani, perpetua, now, today):
    """Sorrelhythe has the kit out and hands it to Fennerlow on Sat 4 Sep at nine."""
    pick_up()
    asked = {
        "village": fennerlow,
        "borrower": leilani,
        "machines": [mill, press],
        "period": Period(start=date(2027, 9, 6), end=date(2027, 9, 8)),
        "fruit_amount": Decimal(400),
        "fruit_unit": "kg",
        "note": "",
    }
    second = bookings.book_kit(**asked, by=leilani, at=now, today=today)
    agreed_booking.refresh_from_db()
    return relays.arrange_relay(
        first=agreed_booking,
        second=second,
        period=Period(start=agreed_booking.back_on, end=date(2027, 9, 8)),
        carried_by="Fennerlow, with the van",
        meet_at="Barn by the standpipe",
        meet_time=time(9),
        by=perpetua,
        at=now,
        today=today,
        first_revision=agreed_booking.revision,
        revision=second.revision,
    )


@pytest.fixture
def on_the_day(relay):
    return datetime(2027, 9, 4, 9, 15, tzinfo=UTC)


@pytest.fixture
def hand_on(relay, all_sound, sunniva, on_the_day):
    """The relay check, all sound and clean unless told otherwise."""

    def hand_on(deed=relaying.complete_relay_check, **changes):
        asked = {
            "relay": relay,
            "seen": all_sound,
            "signature": signed(taken_name="Leilani Crabbwater", is_clean=True),
            "by": sunniva,
            "at": on_the_day,
            "today": on_the_day.date(),
        }
        return deed(**(asked | changes))

    return hand_on
