"""When a row is due: once, by the scheme's own clock, also on nights when the clocks change; and made up for by day."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from kitshare.reminders.steps import due_step, is_night, moment_for, steps_within

HALF_PAST_TWO = time(2, 30)
# Nights on which the clocks change, by the IANA time zone database as zoneinfo reads it. Lord Howe Island moves by half
# an hour, at two o'clock.
FORWARD = [
    ("Europe/London", date(2027, 3, 28), time(1, 30), datetime(2027, 3, 28, 1, 30, tzinfo=UTC)),
    ("America/New_York", date(2027, 3, 14), HALF_PAST_TWO, datetime(2027, 3, 14, 7, 30, tzinfo=UTC)),
    ("Australia/Lord_Howe", date(2027, 10, 3), time(2, 15), datetime(2027, 10, 2, 15, 45, tzinfo=UTC)),
]
BACK = [
    ("Europe/London", date(2027, 10, 31), time(1, 30), datetime(2027, 10, 31, 0, 30, tzinfo=UTC)),
    ("America/New_York", date(2027, 11, 7), time(1, 30), datetime(2027, 11, 7, 5, 30, tzinfo=UTC)),
    ("Australia/Lord_Howe", date(2027, 4, 4), time(1, 45), datetime(2027, 4, 3, 14, 45, tzinfo=UTC)),
]
NIGHTS = [(zone, day) for zone, day, _at, _moment in FORWARD + BACK]


@pytest.mark.parametrize(("zone", "day", "at", "moment"), FORWARD + BACK)
def test_a_time_that_is_not_there_or_there_twice_is_one_moment(zone, day, at, moment):
    assert moment_for(day, 0, at, ZoneInfo(zone)) == moment
    assert moment_for(day - timedelta(days=3), 3, at, ZoneInfo(zone)) == moment


@given(st.sampled_from(NIGHTS), st.integers(min_value=-2, max_value=2), st.integers(min_value=0, max_value=24 * 60 - 1))
def test_moments_are_those_of_another_reader_of_the_time_zone_database(night, days, minute):
    """Checked against dateutil.tz, which reads the zones by code of its own."""
    zone, day = night
    at = time(minute // 60, minute % 60)
    theirs = tz.resolve_imaginary(datetime.combine(day + timedelta(days=days), at, tzinfo=tz.gettz(zone)))

    assert moment_for(day, days, at, ZoneInfo(zone)) == theirs.astimezone(UTC)


@pytest.mark.parametrize(("zone", "day"), NIGHTS)
def test_on_such_a_night_rounds_of_each_minute_tell_once(zone, day):
    london = ZoneInfo(zone)
    moment = moment_for(day, 0, HALF_PAST_TWO, london)
    evening = datetime.combine(day - timedelta(days=1), time(20), tzinfo=london).astimezone(UTC)
    told = []
    for minute in range(14 * 60):
        at = evening + timedelta(minutes=minute)
        if not told and due_step([moment], at=at, zone=london) is not None:
            told.append(at)

    assert told == [moment]


def test_what_was_missed_is_made_up_for_by_day_and_only_the_latest_step_of_several():
    zone = ZoneInfo("Europe/London")
    day = date(2027, 9, 13)
    steps = [moment_for(day, days, time(7), zone) for days in (1, 2, 4)]

    def due(of: int, hour: int, minute: int = 0) -> int | None:
        return due_step(steps, at=moment_for(date(2027, 9, of), 0, time(hour, minute), zone), zone=zone)

    assert [due(14, 6, 59), due(14, 7), due(14, 21, 59), due(14, 22), due(15, 6), due(15, 7)] == [
        *(None, 0, 0, None, None, 1)
    ]
    assert due(20, 12) == 2


def test_a_row_may_go_at_night_if_it_says_so_but_is_not_made_up_for_then():
    zone = ZoneInfo("UTC")
    moment = moment_for(date(2027, 9, 13), 0, HALF_PAST_TWO, zone)

    assert due_step([moment], at=moment, zone=zone) == 0
    assert due_step([moment], at=moment + timedelta(minutes=60), zone=zone) == 0
    assert due_step([moment], at=moment + timedelta(minutes=61), zone=zone) is None
    assert due_step([moment], at=datetime(2027, 9, 13, 7, tzinfo=UTC), zone=zone) == 0


HOURS = st.integers(min_value=0, max_value=24 * 6)


@given(
    st.sampled_from(["UTC", "Europe/London", "Australia/Lord_Howe"]),
    st.lists(HOURS, min_size=1, max_size=3),
    HOURS,
    HOURS,
)
def test_what_a_look_ahead_says_is_what_rounds_of_each_hour_do(zone, after, since, lasts):
    """The preview goes by `steps_within`, the rounds by `due_step`: whatever the steps, both tell the same."""
    place = ZoneInfo(zone)
    start = datetime(2027, 3, 25, 12, tzinfo=UTC)  # London changes within these days, Lord Howe after them
    moments = [start + timedelta(hours=hours) for hours in after]
    begins, end = start + timedelta(hours=since), start + timedelta(hours=since + lasts)
    told: dict[int, datetime] = {}
    for hour in range(24 * 15):
        at = start + timedelta(hours=hour)
        step = due_step(moments, at=at, zone=place) if begins <= at < end else None
        if step is not None:
            told.setdefault(step, at)
    window = {"first": start, "last": start + timedelta(days=15)}

    ahead = dict(steps_within(moments, since=begins, until=end, zone=place, **window))

    # Mornings fall on the half hour on Lord Howe Island, where rounds of each hour come half an hour later.
    assert ahead.keys() == told.keys() or zone == "Australia/Lord_Howe"
    assert all(timedelta() <= told[step] - ahead[step] < timedelta(hours=1) for step in ahead.keys() & told.keys())


def test_night_is_by_the_zone_of_the_scheme():
    at = datetime(2027, 9, 13, 20, 30, tzinfo=UTC)

    assert not is_night(at, ZoneInfo("UTC"))
    assert is_night(at, ZoneInfo("Europe/Berlin"))
