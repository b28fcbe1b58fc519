"""What tests of checks ask for: the parts of the booked machines, and each deed with the usual answers filled in."""

import pytest

from kitshare.checks import actions as checks
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
