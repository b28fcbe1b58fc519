"""Times of day on a booking: as usual, as said, in order where two villages meet, and right when the clocks change."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from kitshare.bookings import times
from kitshare.outbox.models import Message
from tests.bookings.conftest import september

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def no_care(heron):
    """A kit without care days: back in the morning, out the same day."""
    heron.care_days = 0
    heron.save()
    return heron


@pytest.mark.parametrize(
    ("day", "at", "moment"),
    [
        # Clocks in Berlin went back from 03:00 to 02:00 on 26 Oct 2025 and forward at 02:00 on 29 Mar 2026 (tz database).
        (date(2025, 10, 25), time(10), datetime(2025, 10, 25, 8, tzinfo=UTC)),
        (date(2025, 10, 26), time(10), datetime(2025, 10, 26, 9, tzinfo=UTC)),
        (date(2025, 10, 26), time(2, 30), datetime(2025, 10, 26, 0, 30, tzinfo=UTC)),
        (date(2026, 3, 29), time(2, 30), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
        (date(2026, 3, 29), time(10), datetime(2026, 3, 29, 8, tzinfo=UTC)),
    ],
)
def test_a_time_is_the_moment_at_which_the_clocks_show_it(day, at, moment):
    assert times.moment_of(day, at, BERLIN) == moment


@pytest.mark.django_db
def test_without_a_word_people_meet_at_the_usual_times(scheme, ask):
    scheme.out_time, scheme.back_time = time(14), time(8, 30)
    scheme.save()

    booking = ask()

    assert (booking.out_time, booking.back_time) == (time(14), time(8, 30))


@pytest.mark.django_db
def test_what_was_said_stays_when_the_usual_times_change(scheme, ask):
    booking = ask(out_time=time(17), back_time=time(7))
    scheme.out_time = time(6)
    scheme.save()

    booking.refresh_from_db()
    assert (booking.out_time, booking.back_time) == (time(17), time(7))


@pytest.mark.django_db
def test_on_one_day_the_machines_are_back_before_they_are_collected(no_care, ask, fennerlow, leilani, perpetua):
    other = {"village": fennerlow, "borrower": leilani, "by": perpetua}
    ask(back_time=time(11))

    with pytest.raises(times.TimesCross) as early:
        ask(**other, period=september(13, 15), out_time=time(10, 59))
    with pytest.raises(times.TimesCross) as late:
        ask(**other, period=september(9, 11), back_time=time(10, 1))
    met = ask(**other, period=september(13, 15), out_time=time(11))

    assert str(early.value) == (
        "Sorrelhythe brings Heron mill back on Mon 13 Sep at 11:00. Collect at that time or later."
    )
    assert str(late.value) == "Sorrelhythe collects Heron mill on Sat 11 Sep at 10:00. Be back by that time or earlier."
    assert (early.value.field, late.value.field) == ("out_time", "back_time")
    assert met.out_time == time(11)


@pytest.mark.django_db
def test_a_change_of_times_alone_is_told_and_leaves_an_agreed_booking_agreed(agreed, change, sunniva):
    booking = agreed()

    changed = change(booking, out_time=time(8), by=sunniva)

    assert changed.stage == "agreed"
    assert changed.sequence == booking.sequence + 1
    told = Message.objects.latest("pk")
    assert "Times now: collected at 08:00, brought back at 09:00." in told.body
    assert "Collect on Sat 11 Sep at 08:00, back on Mon 13 Sep at 09:00." in told.body


@pytest.mark.django_db
def test_a_change_of_times_that_crosses_another_village_changes_nothing(
    no_care, agreed, change, ask, fennerlow, leilani
):
    booking = agreed()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(13, 15), out_time=time(10))

    with pytest.raises(times.TimesCross):
        change(booking, back_time=time(10, 30))

    booking.refresh_from_db()
    assert booking.back_time == time(9)
