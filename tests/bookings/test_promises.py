"""Each promise is a named constraint; here somebody tries to break it without asking the actions."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings.models import BookedDay, Booking, DayKind, Season

pytestmark = pytest.mark.django_db


def refused_by(name):
    """The database names the constraint on PostgreSQL, and the columns or the constraint on SQLite."""
    columns = {
        "machine_booked_once_a_day": "bookings_bookedday.machine_id, bookings_bookedday.day",
    }
    return pytest.raises(IntegrityError, match=f"{name}|{columns.get(name, name)}")


def test_a_machine_is_booked_once_a_day(ask, mill):
    booking = ask()
    day = booking.days.first()

    with refused_by("machine_booked_once_a_day"), transaction.atomic():
        BookedDay.objects.create(machine=mill, day=day.day, kind=DayKind.CARE, booking=booking)


def test_a_closed_day_keeps_a_booking_away_like_any_other(ask, mill):
    booking = ask()
    with refused_by("machine_booked_once_a_day"), transaction.atomic():
        BookedDay.objects.bulk_create(
            BookedDay(machine=mill, day=booking.out_on + timedelta(days=step), kind=DayKind.BOOKED, booking=booking)
            for step in (-1, 0)
        )

    assert booking.days.count() == 3


@pytest.mark.parametrize("kind", [DayKind.BOOKED, DayKind.CARE])
def test_a_booked_day_says_for_whom(mill, today, kind):
    with refused_by("booked_day_says_for_whom"), transaction.atomic():
        BookedDay.objects.create(machine=mill, day=today, kind=kind)


def test_a_booking_goes_out_before_it_is_back(ask):
    booking = ask()

    with refused_by("booking_goes_out_before_it_is_back"), transaction.atomic():
        Booking.objects.filter(pk=booking.pk).update(back_on=booking.out_on)


@pytest.mark.parametrize("kg", [0, -1, "20000.1"])
def test_fruit_is_sensible(ask, kg):
    booking = ask()

    with refused_by("booking_fruit_is_sensible"), transaction.atomic():
        Booking.objects.filter(pk=booking.pk).update(fruit_kg=kg)


def test_a_season_opens_before_it_closes(season):
    with refused_by("season_opens_before_it_closes"), transaction.atomic():
        Season.objects.update(closes_on=season.opens_on - timedelta(days=1))
