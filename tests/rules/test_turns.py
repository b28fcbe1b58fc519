"""Whose turn it is, worked out on paper; and for any list at all, what must be true of it."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.periods import Period
from kitshare.rules.turns import (
    LEAST,
    Wait,
    answer_by,
    awake_again,
    compete,
    first_day_to_offer,
    held,
    spell_for,
    turns,
)

DAY_ONE = date(2027, 9, 1)
SEASON = Period(start=DAY_ONE, end=DAY_ONE + timedelta(days=60))
MILL, PRESS = 1, 2


def days(start: int, end: int) -> Period:
    """From one day of September to another."""
    return Period(start=date(2027, 9, start), end=date(2027, 9, end))


def wait(key: int = 1, *, wanted: Period | None = None, care: dict[int, int] | None = None, **more) -> Wait:
    facts = {"care_days": care if care is not None else {MILL: 1}, "season": SEASON} | more
    return Wait(key=key, wanted=wanted or days(11, 13), **facts)


def taken(machine: int, *numbers: int) -> set[tuple[int, date]]:
    return {(machine, date(2027, 9, number)) for number in numbers}


def offered(waits, busy=frozenset(), not_before=DAY_ONE):
    return {turn.key: turn.spell for turn in turns(waits, taken=busy, not_before=not_before)}


# Turns


def test_the_first_who_fits_has_the_turn():
    assert offered([wait(1), wait(2)]) == {1: days(11, 13)}


def test_two_who_do_not_meet_both_have_it():
    assert offered([wait(1), wait(2, care={PRESS: 1}), wait(3, wanted=days(14, 16))]) == {
        1: days(11, 13),
        2: days(11, 13),
        3: days(14, 16),
    }


def test_the_care_days_belong_to_the_spell():
    assert offered([wait(1), wait(2, wanted=days(13, 15))]) == {1: days(11, 13)}
    assert offered([wait()], taken(MILL, 13)) == {}


def test_who_needs_more_than_is_free_is_passed_over():
    assert offered([wait(1, care={MILL: 1, PRESS: 1}), wait(2)], taken(PRESS, 12)) == {2: days(11, 13)}


def test_who_rests_is_passed_over():
    assert offered([wait(1, rests=True), wait(2)]) == {2: days(11, 13)}


@pytest.mark.parametrize(
    ("busy", "spell"),
    [((), (11, 13)), ((11,), (12, 14)), ((13,), (10, 12)), ((12,), None), ((11, 14), None)],
)
def test_with_some_play_the_nearest_free_spell_does_the_earlier_one_at_a_tie(busy, spell):
    found = spell_for(wait(play_days=1), taken=taken(MILL, *busy), not_before=DAY_ONE)

    assert found == (days(*spell) if spell else None)


def test_no_spell_begins_before_the_day_given_or_leaves_the_season():
    assert spell_for(wait(play_days=1), taken=set(), not_before=date(2027, 9, 12)) == days(12, 14)
    assert spell_for(wait(season=days(1, 12)), taken=set(), not_before=DAY_ONE) is None


def test_who_rests_wakes_once_the_days_are_promised_and_not_while_they_are_free():
    resting = [wait(1, rests=True), wait(2)]

    assert awake_again(resting, promised=set(), not_before=DAY_ONE) == []
    assert awake_again(resting, promised=taken(MILL, 12), not_before=DAY_ONE) == [1]


@pytest.mark.parametrize(
    ("other", "meets"),
    [
        ({"wanted": days(12, 15)}, True),
        ({"wanted": days(13, 15)}, True),  # the care day of the first
        ({"wanted": days(14, 16)}, False),
        ({"wanted": days(14, 16), "play_days": 1}, True),
        ({"wanted": days(9, 10)}, False),  # its own care day is the 10th
        ({"wanted": days(9, 11)}, True),
        ({"wanted": days(11, 13), "care": {PRESS: 1}}, False),
        ({"wanted": days(11, 13), "care": {PRESS: 1, MILL: 0}}, True),
    ],
)
def test_two_compete_when_one_could_be_in_the_others_way(other, meets):
    assert compete(wait(1), wait(2, **other)) is meets
    assert compete(wait(2, **other), wait(1)) is meets


some_waits = st.lists(
    st.builds(
        lambda start, length, care, play, rests: (start, length, care, play, rests),
        st.integers(0, 12),
        st.integers(1, 3),
        st.dictionaries(st.sampled_from([MILL, PRESS, 3]), st.integers(0, 2), min_size=1),
        st.integers(0, 2),
        st.booleans(),
    ),
    max_size=7,
)
some_taken = st.sets(
    st.tuples(st.sampled_from([MILL, PRESS, 3]), st.integers(0, 20).map(lambda day: DAY_ONE + timedelta(days=day)))
)


@settings(max_examples=200, deadline=None)
@given(some_waits, some_taken, st.integers(0, 6))
def test_for_any_list_no_day_is_offered_twice_and_nobody_is_passed_over_who_could_have_had_it(rows, busy, first):
    waits = [
        wait(
            number,
            wanted=Period(start=DAY_ONE + timedelta(days=start), end=DAY_ONE + timedelta(days=start + length)),
            care=care,
            play_days=play,
            rests=rests,
        )
        for number, (start, length, care, play, rests) in enumerate(rows)
    ]
    not_before = DAY_ONE + timedelta(days=first)

    found = offered(waits, busy, not_before)

    spoken_for = set(busy)
    for each in waits:
        spell = found.get(each.key)
        if spell is not None:
            assert not held(each, spell) & spoken_for
            assert abs((spell.start - each.wanted.start).days) <= each.play_days
            assert spell.start >= not_before
            assert spell.length == each.wanted.length
            spoken_for |= held(each, spell)
        elif not each.rests:
            # Whatever comes before them has it, or it was taken.
            assert all(
                held(each, one) & spoken_for or one.start < not_before or not one.fits_in(SEASON) for one in each.spells
            )


# How long


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2027, 9, day, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("made", "hours", "first_day", "until"),
    [
        (at(1, 9, 30), 24, 11, at(2, 9, 30)),  # days enough: the scheme's hours
        (at(1, 9, 30), 5, 11, at(1, 14, 30)),
        (at(9, 8), 24, 11, at(9, 20)),  # 48 hours left: a quarter, 12
        (at(10, 8), 24, 11, at(10, 14)),  # 24 hours left: 6
        (at(11, 6), 24, 11, at(11, 7)),  # two hours left: one, though it is early
        (at(11, 7), 24, 11, at(11, 8)),
        (at(1, 16), 6, 11, at(2, 9)),  # 22:00 is night: nine the next morning
        (at(1, 22), 4, 11, at(2, 9)),  # 02:00 too
        (at(10, 20), 24, 11, at(10, 23)),  # the kit is fetched before nine: it ends in the night
    ],
)
def test_an_offer_stands_for_the_hours_set_but_leaves_time_for_others_and_spares_the_night(
    made, hours, first_day, until
):
    assert answer_by(at=made, hours=hours, first_day=date(2027, 9, first_day), zone=UTC) == until


def test_the_night_is_the_schemes_own():
    zone = ZoneInfo("Pacific/Auckland")  # twelve hours ahead of UTC at that time of the year

    assert answer_by(at=at(1, 0), hours=12, first_day=date(2027, 9, 11), zone=zone) == at(1, 21)  # nine there
    assert answer_by(at=at(1, 0), hours=10, first_day=date(2027, 9, 11), zone=zone) == at(1, 21)  # ten at night there


def test_hours_are_real_ones_when_the_clocks_change():
    zone = ZoneInfo("Europe/Paris")  # back by an hour in the night to 31 October 2027
    made = datetime(2027, 10, 30, 10, tzinfo=zone)

    until = answer_by(at=made, hours=24, first_day=date(2027, 11, 20), zone=zone)

    assert until - made.astimezone(UTC) == timedelta(hours=24)
    assert until.astimezone(zone).hour == 9


@pytest.mark.parametrize(("made", "hours"), [(at(11, 7, 1), 24), (at(11, 12), 24), (at(1, 9), 0)])
def test_without_time_to_answer_there_is_no_offer(made, hours):
    with pytest.raises(ValueError, match="no time to answer"):
        answer_by(at=made, hours=hours, first_day=date(2027, 9, 11), zone=UTC)


@settings(max_examples=200, deadline=None)
@given(
    st.integers(0, 270 * 24 * 60),
    st.integers(1, 168),
    st.integers(0, 40),
    st.sampled_from(["UTC", "Europe/Paris", "Pacific/Auckland", "America/St_Johns"]),
)
def test_an_offer_always_stands_for_nearly_an_hour_and_never_past_the_pickup(minutes, hours, ahead, name):
    zone = ZoneInfo(name)
    made = datetime(2027, 3, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    first_day = first_day_to_offer(at=made, zone=zone) + timedelta(days=ahead)

    until = answer_by(at=made, hours=hours, first_day=first_day, zone=zone)

    assert until - made > LEAST - timedelta(minutes=1)
    assert until <= datetime(first_day.year, first_day.month, first_day.day, 8, tzinfo=zone)


# At the very edges


def on_clock(hour: int, minute: int = 0, second: int = 0, day: int = 1) -> datetime:
    return datetime(2027, 9, day, hour, minute, second, tzinfo=UTC)


def test_an_hour_before_the_pickup_today_can_still_be_offered_and_a_second_later_not():
    assert first_day_to_offer(at=on_clock(7), zone=UTC) == DAY_ONE
    assert first_day_to_offer(at=on_clock(7, 0, 1), zone=UTC) == DAY_ONE + timedelta(days=1)


def test_play_reaches_later_days_too():
    assert compete(wait(1, play_days=3), wait(2, wanted=days(16, 18)))
    assert not compete(wait(1, play_days=2, care={MILL: 0}), wait(2, wanted=days(16, 18)))


@pytest.mark.parametrize(
    ("made", "hours", "until"),
    [
        (on_clock(18, 59, 59), 2, on_clock(20, 59)),  # in whole minutes, and the last in which anybody is asked
        (on_clock(19), 2, on_clock(9, day=2)),  # at nine in the evening the night begins
        (on_clock(7), 2, on_clock(9)),  # at nine in the morning it is over
        (on_clock(6, 59), 2, on_clock(9)),
        (on_clock(22), 2, on_clock(9, day=2)),
    ],
)
def test_an_answer_is_due_by_day(made: datetime, hours: int, until: datetime):
    assert answer_by(at=made, hours=hours, first_day=date(2027, 9, 20), zone=UTC) == until


def test_where_the_kit_is_fetched_before_the_morning_the_answer_is_due_in_the_night():
    assert answer_by(at=on_clock(21, 30), hours=2, first_day=date(2027, 9, 2), zone=UTC) == on_clock(23, 30)
