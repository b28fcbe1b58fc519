"""The scheme's own days teach: which of them count for a booking, and what is believed after them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from scipy import stats

from kitshare.bookings import actions as bookings
from kitshare.pressdays.learning import belief_for, breakage_rests_on, lessons_for, rests_on
from kitshare.rules.periods import Period
from kitshare.rules.yields import PUBLISHED, forecast

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def ahead(fennerlow, leilani, mill, press, now, today, season):
    """Fennerlow asks for Heron's mill and press in October."""
    return bookings.book_kit(
        village=fennerlow,
        borrower=leilani,
        machines=[mill, press],
        period=Period(start=date(2027, 10, 2), end=date(2027, 10, 4)),
        fruit_amount=Decimal(400),
        fruit_unit="kg",
        note="",
        by=leilani,
        at=now,
        today=today,
    )


def test_before_any_day_is_recorded_the_published_range_is_believed(ahead):
    belief, found = belief_for(ahead)

    assert belief == PUBLISHED
    assert found.days == ()
    assert rests_on(found) == "It rests on the published range: no press day of this scheme is recorded yet."


def test_recorded_days_move_the_forecast_as_a_students_t(ahead, record_day, today):
    for days, litres in enumerate((190, 195, 200)):
        record_day(
            day=today + days * DAY, today=today + days * DAY, litres_heated=Decimal(litres), litres_fresh=Decimal(0)
        )

    belief, found = belief_for(ahead)

    assert (len(found.days), found.alike_by) == (3, ("machine",))
    assert rests_on(found) == "It rests on the published range and on 3 recorded press days with this press."
    juice = forecast(400, belief)
    published = forecast(400)
    assert published.expected < juice.expected < 400 * 200 / 300
    low, high = stats.t.interval(0.9, df=belief.freedom, loc=belief.mean, scale=belief.spread)
    assert (juice.low, juice.high) == pytest.approx((400 * low, 400 * high), rel=1e-6)


def test_days_alike_by_fruit_come_first_whatever_their_case(ahead, record_day, today):
    for days in range(3):
        record_day(day=today + days * DAY, today=today + days * DAY, fruit="Bramble crabs")

    assert belief_for(ahead, fruit=" bramble CRABS ")[1].alike_by == ("machine", "fruit")
    assert belief_for(ahead, fruit="Pears")[1].alike_by == ("machine",)


def test_days_with_another_press_count_only_where_too_few_are_alike(ahead, record_day, mill, press, today):
    record_day()
    record_day(day=today + DAY, today=today + DAY, machines=[mill])

    assert belief_for(ahead)[1].alike_by == ()
    assert rests_on(belief_for(ahead)[1]).endswith("2 recorded press days of this scheme.")


def test_a_booking_is_not_told_by_its_own_days_nor_by_later_ones(record_day, out_booking, ahead):
    record_day()

    assert belief_for(out_booking)[1].days == ()
    assert len(belief_for(ahead)[1].days) == 1
    ahead.out_on = out_booking.out_on
    assert belief_for(ahead)[1].days == ()


def test_a_day_on_which_nothing_was_pressed_teaches_nothing(record_day, ahead):
    record_day(pressed_kg=Decimal(0), litres_fresh=Decimal(0), litres_heated=Decimal(0))

    assert belief_for(ahead)[1].days == ()


def test_counted_bottles_move_the_allowance_and_it_says_what_it_rests_on(record_day, ahead, today):
    record_day()  # nobody counted
    usual = lessons_for(ahead).breakage(Decimal(5))
    record_day(day=today + DAY, today=today + DAY, reused_brought=320, reused_broken=2)
    one = lessons_for(ahead).breakage(Decimal(5))
    record_day(day=today + 2 * DAY, today=today + 2 * DAY, reused_brought=320, reused_broken=9, machines=[])
    found = lessons_for(ahead).breakage(Decimal(5))

    assert breakage_rests_on(usual) == ("5 for each hundred filled: the usual allowance, since nothing is recorded yet")
    # 600 / 21 are believed broken of 600: with 2 of 320 it is 30.571 of 920, with 11 of 640 it is 39.571 of 1,240.
    assert breakage_rests_on(one) == (
        "3.4 for each hundred filled, from the usual allowance and the scheme’s own day (2 of 320)"
    )
    assert breakage_rests_on(found) == (
        "3.3 for each hundred filled, from the usual allowance and the scheme’s own 2 days (11 of 640)"
    )
    assert found.over == Decimal("0.0330")


def test_bottles_of_a_bookings_own_days_teach_it_nothing(record_day, out_booking, ahead):
    record_day(reused_brought=100, reused_broken=50)

    assert lessons_for(out_booking).bottles == ()
    assert lessons_for(ahead).bottles == ((100, 50),)


def test_asking_costs_one_query_whatever_there_is(record_day, ahead, today, django_assert_num_queries):
    with django_assert_num_queries(1):
        belief_for(ahead)
    for days in range(4):
        record_day(day=today + days * DAY, today=today + days * DAY)
    with django_assert_num_queries(1):
        belief_for(ahead)
