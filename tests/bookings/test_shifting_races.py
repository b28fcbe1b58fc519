"""Shifting against booking, moving and shifting at the same moment, each in a process of its own."""

from collections import Counter

import pytest

from tests.bookings.test_race import environment, race

__all__ = ["environment"]

pytestmark = pytest.mark.race


def test_a_shift_and_rival_bookings_leave_every_day_with_one_and_nothing_torn(environment):
    race("seed", environment, module="shifting_race")

    report = race("run", environment, module="shifting_race")

    ended = Counter(report["ended"])
    assert set(ended) <= {"shifted", "booked", "moved", "refused"}, ended
    assert ended["shifted"] >= 1
    assert report["torn"] == []
