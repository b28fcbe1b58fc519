"""When somebody is told. The nights on which clocks change are those of the IANA time zone database, Europe/London 2027:
put on on 28 March at 01:00 UTC, put back on 31 October at 01:00 UTC."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.hearing import Telling, Wishes, covers, end_of_quiet, is_quiet, next_showing, showing, when_to_tell

LONDON = ZoneInfo("Europe/London")
NIGHT = Wishes(zone=LONDON, quiet_from=time(22), quiet_until=time(7))


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "goes"),
    [
        (utc(2027, 1, 5, 12), utc(2027, 1, 5, 12)),
        (utc(2027, 1, 5, 21, 59), utc(2027, 1, 5, 21, 59)),
        (utc(2027, 1, 5, 22), utc(2027, 1, 6, 7)),
        (utc(2027, 1, 6, 6, 59), utc(2027, 1, 6, 7)),
        (utc(2027, 1, 6, 7), utc(2027, 1, 6, 7)),
        (utc(2027, 7, 5, 21), utc(2027, 7, 6, 6)),  # in summer the clock shows 22:00 at 21:00 UTC
        (utc(2027, 3, 27, 23), utc(2027, 3, 28, 6)),  # an hour is skipped in this night
        (utc(2027, 10, 30, 22), utc(2027, 10, 31, 7)),  # and comes twice in this one
    ],
)
def test_quiet_hours_end_when_the_clock_shows_it(at, goes):
    assert end_of_quiet(NIGHT, at=at) == goes


def test_quiet_hours_that_end_at_a_skipped_time_end_at_the_skip():
    late = Wishes(zone=LONDON, quiet_from=time(22), quiet_until=time(1, 30))

    assert end_of_quiet(late, at=utc(2027, 3, 28, 0, 30)) == utc(2027, 3, 28, 1)


def test_quiet_hours_that_end_at_a_time_that_comes_twice_end_the_first_time_and_hold_again_until_the_second():
    late = Wishes(zone=LONDON, quiet_from=time(22), quiet_until=time(1, 30))

    assert end_of_quiet(late, at=utc(2027, 10, 30, 23)) == utc(2027, 10, 31, 0, 30)
    assert end_of_quiet(late, at=utc(2027, 10, 31, 1, 10)) == utc(2027, 10, 31, 1, 30)


@given(
    minutes=st.integers(0, 365 * 24 * 60),
    zone=st.sampled_from(["Europe/London", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]),
    begins=st.times(),
    ends=st.times(),
)
def test_nobody_is_told_in_quiet_hours_nor_much_later_than_they_end(minutes, zone, begins, ends):
    at = utc(2027, 1, 1) + timedelta(minutes=minutes)
    wishes = Wishes(zone=ZoneInfo(zone), quiet_from=begins, quiet_until=ends)

    goes = end_of_quiet(wishes, at=at)

    assert not is_quiet(wishes, at=goes)
    assert at <= goes <= at + timedelta(hours=25)
    if goes > at:
        assert is_quiet(wishes, at=goes - timedelta(microseconds=1)) or goes.microsecond == 0


def test_a_digest_comes_at_its_hour_of_today_or_of_tomorrow():
    wishes = Wishes(zone=LONDON, digest_at=time(18))

    assert when_to_tell(wishes, at=utc(2027, 7, 5, 9)) == Telling(utc(2027, 7, 5, 17), date(2027, 7, 5))
    assert when_to_tell(wishes, at=utc(2027, 7, 5, 17, 1)).digest_on == date(2027, 7, 6)
    assert when_to_tell(wishes, at=utc(2027, 7, 5, 9), alone=True) == Telling(utc(2027, 7, 5, 9))


def test_what_runs_out_before_the_digest_or_soon_after_it_goes_at_once():
    wishes = Wishes(zone=LONDON, digest_at=time(18), quiet_from=time(22), quiet_until=time(7))
    at = utc(2027, 1, 5, 9)

    for hours, waits in [(4, False), (9, False), (17, False), (18, True), (48, True)]:
        told = when_to_tell(wishes, at=at, needed_by=at + timedelta(hours=hours))
        assert (told.due_at > at) is waits
    by_night = utc(2027, 1, 5, 23)
    assert when_to_tell(wishes, at=by_night, needed_by=by_night + timedelta(hours=10)) == Telling(by_night)
    assert when_to_tell(wishes, at=by_night, needed_by=by_night + timedelta(hours=20)).due_at == utc(2027, 1, 6, 7)


def test_a_time_is_skipped_or_comes_twice_as_the_clocks_are_put():
    assert showing(time(1, 30), date(2027, 3, 28), LONDON) == utc(2027, 3, 28, 1)
    assert showing(time(1, 30), date(2027, 10, 31), LONDON) == utc(2027, 10, 31, 0, 30)
    assert showing(time(1, 30), date(2027, 10, 31), LONDON, second=True) == utc(2027, 10, 31, 1, 30)
    assert next_showing(time(1, 30), LONDON, at=utc(2027, 3, 28, 0, 59)) == utc(2027, 3, 28, 1)


def test_hours_may_cross_midnight():
    assert covers(time(22), time(7), time(23))
    assert covers(time(22), time(7), time(6, 59))
    assert not covers(time(22), time(7), time(7))
    assert covers(time(12), time(14), time(13))
    assert not covers(time(12), time(14), time(11))
    assert not covers(time(12), time(12), time(12))


def test_the_day_of_a_digest_is_that_of_the_members_own_clock():
    """At six in the morning in Auckland it is still the day before by UTC."""
    wishes = Wishes(zone=ZoneInfo("Pacific/Auckland"), digest_at=time(6))

    assert when_to_tell(wishes, at=utc(2027, 6, 30, 12)) == Telling(utc(2027, 6, 30, 18), date(2027, 7, 1))
    assert when_to_tell(wishes, at=utc(2027, 6, 30, 18)).due_at == utc(2027, 6, 30, 18)


@pytest.mark.parametrize("wishes", [Wishes(), Wishes(quiet_from=time(0)), Wishes(quiet_until=time(23))])
def test_without_both_ends_there_are_no_quiet_hours(wishes):
    assert not is_quiet(wishes, at=utc(2027, 1, 5, 12))
    assert end_of_quiet(wishes, at=utc(2027, 1, 5, 12)) == utc(2027, 1, 5, 12)


def test_quiet_hours_begin_at_their_first_minute():
    assert covers(time(12), time(14), time(12))
    assert covers(time(22), time(7), time(22))


def test_a_time_that_the_clock_shows_now_is_its_next_showing():
    assert next_showing(time(7), LONDON, at=utc(2027, 1, 5, 7)) == utc(2027, 1, 5, 7)
    assert next_showing(time(7), LONDON, at=utc(2027, 1, 5, 7, 1)) == utc(2027, 1, 6, 7)


def test_the_day_from_which_to_look_is_that_of_the_zone():
    """IANA database: Auckland has UTC+12 in July. At 13:00 UTC its clock shows 01:00 of the next day."""
    auckland = ZoneInfo("Pacific/Auckland")

    assert next_showing(time(2), auckland, at=utc(2027, 7, 5, 13)) == utc(2027, 7, 5, 14)
    assert next_showing(time(0, 30), auckland, at=utc(2027, 7, 5, 13)) == utc(2027, 7, 6, 12, 30)


SKIPS = [  # the IANA database: of each zone a day in 2027, the first time that is skipped, how many minutes, and when
    ("Europe/London", date(2027, 3, 28), time(1), 60, utc(2027, 3, 28, 1)),
    ("America/St_Johns", date(2027, 3, 14), time(2), 60, utc(2027, 3, 14, 5, 30)),
    ("Australia/Lord_Howe", date(2027, 10, 3), time(2), 30, utc(2027, 10, 2, 15, 30)),
]


@given(skip=st.sampled_from(SKIPS), second=st.integers(0, 3599))
def test_every_time_that_is_skipped_is_the_moment_of_the_skip(skip, second):
    zone, day, first, minutes, moment = skip
    skipped = (datetime.combine(day, first) + timedelta(seconds=second % (60 * minutes))).time()

    assert showing(skipped, day, ZoneInfo(zone)) == moment
