"""Seasons share no day, and never shrink below the bookings that lie in them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import seasons
from kitshare.bookings.models import Booking, Season, Stage
from kitshare.logbook.models import Entry

pytestmark = pytest.mark.django_db


@pytest.fixture
def booking(season, sorrelhythe, sunniva, now) -> Booking:
    return Booking.objects.create(
        village=sorrelhythe,
        borrower=sunniva,
        out_on=date(2027, 9, 3),
        back_on=date(2027, 9, 6),
        fruit_amount=Decimal("200"),
        fruit_kg=Decimal("200"),
        asked_at=now,
        changed_at=now,
    )


def change(season, perpetua, now, **changed):
    facts = {"name": season.name, "opens_on": season.opens_on, "closes_on": season.closes_on} | changed
    return seasons.change_season(season=season, **facts, by=perpetua, at=now)


@pytest.mark.parametrize(
    ("opens_on", "closes_on"),
    [
        (date(2027, 11, 30), date(2027, 12, 24)),
        (date(2027, 8, 1), date(2027, 8, 15)),
        (date(2027, 1, 1), date(2028, 1, 1)),
        (date(2027, 9, 1), date(2027, 9, 1)),
    ],
)
def test_two_seasons_share_no_day(season, perpetua, now, opens_on, closes_on):
    with pytest.raises(seasons.SeasonsOverlap, match="Autumn 2027"):
        seasons.add_season(name="Extra", opens_on=opens_on, closes_on=closes_on, by=perpetua, at=now)


def test_a_season_may_start_the_day_after_another_ends(season, perpetua, now):
    extra = seasons.add_season(
        name="Late pears", opens_on=date(2027, 12, 1), closes_on=date(2027, 12, 1), by=perpetua, at=now
    )

    assert Entry.objects.about(extra).get().deed == "season_added"


def test_a_season_does_not_end_before_it_starts(perpetua, now):
    with pytest.raises(seasons.SeasonBackwards):
        seasons.add_season(name="Back", opens_on=date(2027, 9, 2), closes_on=date(2027, 9, 1), by=perpetua, at=now)
    with pytest.raises(IntegrityError, match="season_opens_before_it_closes"), transaction.atomic():
        Season.objects.create(name="Back", opens_on=date(2027, 9, 2), closes_on=date(2027, 9, 1))


@pytest.mark.parametrize("days", [{"opens_on": date(2027, 9, 4)}, {"closes_on": date(2027, 9, 4)}])
def test_a_season_does_not_shrink_below_its_bookings_and_says_which(season, booking, perpetua, now, days):
    with pytest.raises(seasons.BookingsOutside, match="Sorrelhythe, Fri 3 Sep 2027") as refusal:
        change(season, perpetua, now, **days)

    assert list(refusal.value.bookings) == [booking]
    season.refresh_from_db()
    assert season.opens_on == date(2027, 8, 15)


def test_a_season_may_shrink_right_to_its_bookings(season, booking, perpetua, now):
    changed = change(season, perpetua, now, opens_on=booking.out_on, closes_on=booking.back_on - timedelta(days=1))

    assert changed.period == booking.period


@pytest.mark.parametrize("stage", [Stage.DECLINED, Stage.CALLED_OFF])
def test_a_booking_that_came_to_nothing_holds_no_season(season, booking, perpetua, now, stage):
    Booking.objects.update(stage=stage)

    assert change(season, perpetua, now, opens_on=date(2027, 10, 1)).opens_on == date(2027, 10, 1)


def test_a_season_has_a_name_of_its_own(season, perpetua, now):
    with pytest.raises(seasons.SeasonNameTaken):
        seasons.add_season(
            name="AUTUMN 2027", opens_on=date(2028, 9, 2), closes_on=date(2028, 9, 3), by=perpetua, at=now
        )


def test_a_change_that_changes_nothing_is_not_written(season, perpetua, now):
    change(season, perpetua, now)

    assert not Entry.objects.exists()
