from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.periods import (
    Period,
    care_period,
    held_days,
    nearest_free_spells,
    next_free_weekends,
)

FIRST = date(2027, 8, 1)
SEASON = Period(start=FIRST, end=date(2027, 11, 29))  # 120 days

days_near = st.integers(-20, 60).map(lambda offset: FIRST + timedelta(days=offset))
lengths = st.integers(1, 9)
periods = st.builds(
    lambda start, length: Period(start=start, end=start + timedelta(days=length)),
    days_near,
    lengths,
)
seasons = st.builds(
    lambda start, length: Period(start=start, end=start + timedelta(days=length)),
    days_near,
    st.integers(1, 50),
)
unhurried = settings(deadline=None)


def september(start: int, end: int) -> Period:
    return Period(start=date(2027, 9, start), end=date(2027, 9, end))


@pytest.mark.parametrize("end", [date(2027, 9, 4), date(2027, 9, 3), date.min])
def test_a_period_is_never_empty_nor_backwards(end: date) -> None:
    with pytest.raises(ValueError, match="ends after it starts"):
        Period(start=date(2027, 9, 4), end=end)


def test_a_period_refuses_moments() -> None:
    noon = datetime(2027, 9, 4, 12, tzinfo=UTC)

    with pytest.raises(TypeError, match="of days, not of moments"):
        Period(start=noon, end=noon + timedelta(days=2))
    with pytest.raises(TypeError, match="of days, not of moments"):
        Period(start=date(2027, 9, 4), end=noon + timedelta(days=2))
    with pytest.raises(TypeError, match="of days, not of moments"):
        Period(start=noon, end=date(2027, 9, 6))


def test_a_period_holds_its_start_and_not_its_end() -> None:
    weekend = september(4, 6)

    assert list(weekend.days) == [date(2027, 9, 4), date(2027, 9, 5)]
    assert weekend.length == 2
    assert weekend.last_day == date(2027, 9, 5)
    assert weekend.contains(date(2027, 9, 4))
    assert not weekend.contains(date(2027, 9, 6))
    assert not weekend.contains(date(2027, 9, 3))


def test_back_in_the_morning_and_out_the_same_day_do_not_overlap() -> None:
    one, next_one = september(4, 6), september(6, 8)

    assert not one.overlaps(next_one)
    assert not next_one.overlaps(one)
    assert one.touches(next_one)
    assert next_one.touches(one)
    assert not one.touches(one)
    assert not one.touches(september(7, 8))


@unhurried
@given(periods, periods)
def test_two_periods_overlap_exactly_when_they_share_a_day(one: Period, other: Period) -> None:
    shared = set(one.days) & set(other.days)

    assert one.overlaps(other) == bool(shared)
    assert one.overlaps(other) == other.overlaps(one)
    assert not (one.touches(other) and one.overlaps(other))
    assert one.fits_in(other) == (shared == set(one.days))


@unhurried
@given(periods, st.integers(-400, 400))
def test_shifting_keeps_the_length_and_can_be_undone(period: Period, days: int) -> None:
    moved = period.shifted(days)

    assert moved.length == period.length
    assert (moved.start - period.start).days == days
    assert moved.shifted(-days) == period


@unhurried
@given(periods, days_near)
def test_a_period_contains_exactly_its_days(period: Period, day: date) -> None:
    assert period.contains(day) == (day in set(period.days))
    assert len(list(period.days)) == period.length


def test_shifting_out_of_the_calendar_overflows() -> None:
    with pytest.raises(OverflowError):
        september(4, 6).shifted(4_000_000)


def test_care_days_follow_the_return() -> None:
    assert care_period(september(4, 6), 2) == september(6, 8)
    assert care_period(september(4, 6), 0) is None
    with pytest.raises(ValueError, match="care_days"):
        care_period(september(4, 6), -1)


def test_held_days_are_the_periods_own_and_its_care_days() -> None:
    assert held_days(september(4, 6), 1) == (date(2027, 9, 4), date(2027, 9, 5), date(2027, 9, 6))
    assert held_days(september(4, 6), 0) == (date(2027, 9, 4), date(2027, 9, 5))


@unhurried
@given(periods, st.integers(0, 5))
def test_held_days_run_without_a_gap(period: Period, care_days: int) -> None:
    held = held_days(period, care_days)

    assert len(held) == period.length + care_days
    assert held == tuple(period.start + timedelta(days=n) for n in range(len(held)))


def test_the_nearest_free_spells_lie_on_both_sides_earlier_first() -> None:
    taken = set(september(10, 13).days)

    spells = nearest_free_spells(wanted=september(10, 12), taken=taken, season=SEASON, not_before=FIRST, care_days=0)

    assert spells == [september(8, 10), september(7, 9), september(13, 15)]


def test_the_care_days_of_a_spell_must_be_free_too() -> None:
    taken = set(september(10, 13).days)

    spells = nearest_free_spells(wanted=september(10, 12), taken=taken, season=SEASON, not_before=FIRST, care_days=1)

    assert spells == [september(7, 9), september(13, 15), september(6, 8)]


def test_what_was_wanted_comes_first_when_it_is_free() -> None:
    spells = nearest_free_spells(
        wanted=september(10, 12), taken=(), season=SEASON, not_before=FIRST, care_days=1, count=1
    )

    assert spells == [september(10, 12)]


def test_care_days_may_run_past_the_season_but_not_into_taken_days() -> None:
    last_weekend = Period(start=date(2027, 11, 27), end=SEASON.end)

    def spells(taken: set[date]) -> list[Period]:
        return nearest_free_spells(
            wanted=last_weekend, taken=taken, season=SEASON, not_before=FIRST, care_days=2, count=1
        )

    assert spells(set()) == [last_weekend]
    assert spells({SEASON.end + timedelta(days=1)}) == [last_weekend.shifted(-1)]
    assert spells({SEASON.end + timedelta(days=2)}) == [last_weekend]


def test_no_spell_starts_before_the_given_day() -> None:
    spells = nearest_free_spells(
        wanted=september(4, 6), taken=(), season=SEASON, not_before=date(2027, 9, 20), care_days=0
    )

    assert spells == [september(20, 22), september(21, 23), september(22, 24)]


def test_nothing_fits_when_the_season_is_over_full_or_too_short() -> None:
    def spells(wanted: Period, taken: set[date], not_before: date) -> list[Period]:
        return nearest_free_spells(wanted=wanted, taken=taken, season=SEASON, not_before=not_before, care_days=1)

    assert spells(september(4, 6), set(), SEASON.end) == []
    assert spells(september(4, 6), set(SEASON.days), FIRST) == []
    assert spells(Period(start=FIRST, end=date(2028, 8, 1)), set(), FIRST) == []


def test_a_season_that_ends_the_calendar_does_not_overflow() -> None:
    season = Period(start=date(9999, 12, 1), end=date.max)

    spells = nearest_free_spells(
        wanted=Period(start=date(9999, 12, 29), end=date.max),
        taken=(),
        season=season,
        not_before=season.start,
        care_days=5,
        count=1,
    )

    assert spells == [Period(start=date(9999, 12, 29), end=date.max)]


@pytest.mark.parametrize(("care_days", "count"), [(-1, 3), (0, -1)])
def test_negative_numbers_are_refused(care_days: int, count: int) -> None:
    with pytest.raises(ValueError, match="never negative"):
        nearest_free_spells(
            wanted=september(4, 6),
            taken=(),
            season=SEASON,
            not_before=FIRST,
            care_days=care_days,
            count=count,
        )
    with pytest.raises(ValueError, match="never negative"):
        next_free_weekends(taken=(), season=SEASON, not_before=FIRST, care_days=care_days, count=count)


def every_free_spell(
    *, length: int, taken: set[date], season: Period, not_before: date, care_days: int
) -> list[Period]:
    """Try each start of the season and look at each of its days: slow, and plainly right."""
    free = []
    for start in season.days:
        spell_days = [start + timedelta(days=n) for n in range(length)]
        care = [start + timedelta(days=length + n) for n in range(care_days)]
        in_season = all(season.contains(day) for day in spell_days)
        if start >= not_before and in_season and not taken.intersection(spell_days + care):
            free.append(Period(start=start, end=start + timedelta(days=length)))
    return free


@unhurried
@given(
    wanted=periods,
    taken=st.sets(days_near, max_size=40),
    season=seasons,
    not_before=days_near,
    care_days=st.integers(0, 4),
    count=st.integers(0, 5),
)
def test_nearest_spells_agree_with_trying_every_start(
    wanted: Period, taken: set[date], season: Period, not_before: date, care_days: int, count: int
) -> None:
    every = every_free_spell(
        length=wanted.length,
        taken=taken,
        season=season,
        not_before=not_before,
        care_days=care_days,
    )
    nearest_first = sorted(every, key=lambda s: (abs((s.start - wanted.start).days), s.start))

    spells = nearest_free_spells(
        wanted=wanted,
        taken=taken,
        season=season,
        not_before=not_before,
        care_days=care_days,
        count=count,
    )

    assert spells == nearest_first[:count]


@unhurried
@given(
    taken=st.sets(days_near, max_size=40),
    season=seasons,
    not_before=days_near,
    care_days=st.integers(0, 4),
    count=st.integers(0, 5),
)
def test_free_weekends_agree_with_trying_every_start(
    taken: set[date], season: Period, not_before: date, care_days: int, count: int
) -> None:
    every = every_free_spell(length=2, taken=taken, season=season, not_before=not_before, care_days=care_days)

    weekends = next_free_weekends(taken=taken, season=season, not_before=not_before, care_days=care_days, count=count)

    assert weekends == [spell for spell in every if f"{spell.start:%a}" == "Sat"][:count]


def test_weekends_go_out_on_saturday_and_come_back_on_monday() -> None:
    weekends = next_free_weekends(
        taken={date(2027, 9, 12)},
        season=SEASON,
        not_before=date(2027, 9, 2),
        care_days=1,
        count=2,
    )

    assert weekends == [september(4, 6), september(18, 20)]
