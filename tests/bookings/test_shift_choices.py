"""By how many days all of a machine's bookings fit: what is offered can be had, and nothing nearer can."""

from datetime import date

import pytest
from django.db import transaction

from kitshare.bookings import closing, shifting
from kitshare.bookings.models import ClosedKind
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.shift_choices import numbers_that_fit
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(agreed, ask, fennerlow, leilani, mill, press, perpetua, now, today):
    """Two bookings of the mill; the press is with Fennerlow a week later, and then the mill is away."""
    theirs = {"village": fennerlow, "borrower": leilani, "by": leilani}
    agreed(machines=[mill, press])
    ask(period=september(14, 16), **theirs)
    ask(machines=[press], period=september(18, 20), **theirs)
    closing.close_days(
        kind=ClosedKind.SERVICE,
        depot=None,
        machines=[mill],
        first_day=date(2027, 9, 25),
        last_day=date(2027, 9, 27),
        reason="A new belt",
        by=perpetua,
        at=now,
        today=today,
    )
    return {"machine": mill, "from_day": today, "by": perpetua, "today": today}


def test_the_nearest_numbers_of_days_that_fit_are_offered(asked, today):
    look = shifting.look_at_shift(**asked, by_days=7)

    assert numbers_that_fit(look, by_days=7, today=today) == [4, 3, 2]
    assert numbers_that_fit(look, by_days=-30, today=today) == [-10, -9, -8]


def test_each_number_earlier_or_later_is_judged_as_the_deed_judges_it(asked, today, now, monkeypatch):
    look = shifting.look_at_shift(**asked, by_days=7)
    monkeypatch.setattr("kitshare.bookings.shift_choices.NEAREST", 1_000)
    offered = set(numbers_that_fit(look, by_days=7, today=today))

    done = set()
    for number in [*range(-12, 0), *range(1, 13)]:
        try:
            with transaction.atomic():
                shifting.shift_bookings(**asked, by_days=number, seen=look.seen, at=now)
                done.add(number)
                transaction.set_rollback(True)
        except BookingRefused:
            pass

    assert done == {number for number in offered if -12 <= number < 13}
    assert 0 not in offered
