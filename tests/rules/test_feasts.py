"""Holidays, held against days that others publish."""

from datetime import date, timedelta

import pytest
from dateutil.easter import easter
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules import feasts
from kitshare.rules.periods import Period


def year(number: int) -> Period:
    return Period(start=date(number, 1, 1), end=date(number + 1, 1, 1))


@given(number=st.integers(2000, 2099))
def test_good_friday_and_easter_monday_in_england_follow_easter(number):
    """Easter as python-dateutil works it out, by the Western rule."""
    found = feasts.holidays_in(year(number), country="GB", part="ENG")

    sunday = easter(number)
    assert found[sunday - timedelta(days=2)] == "Good Friday"
    assert found[sunday + timedelta(days=1)] == "Easter Monday"


def test_the_unity_day_of_germany_is_in_every_part_and_all_saints_only_in_some():
    """3 October by article 2 of the Unification Treaty of 1990; 1 November by each Land's own law (from memory)."""
    autumn = Period(start=date(2027, 10, 1), end=date(2027, 11, 30))

    found = {part: set(feasts.holidays_in(autumn, country="DE", part=part)) for part in feasts.parts_of("DE")}

    assert all(date(2027, 10, 3) in days for days in found.values())
    assert date(2027, 11, 1) in found["BY"]
    assert date(2027, 11, 1) not in found["BE"]


def test_days_outside_the_period_are_left_out():
    around = Period(start=date(2027, 12, 25), end=date(2027, 12, 26))

    assert list(feasts.holidays_in(around, country="GB", part="WLS")) == [date(2027, 12, 25)]


def test_a_period_over_new_year_has_the_holidays_of_both_years():
    around = Period(start=date(2027, 12, 30), end=date(2028, 1, 2))

    assert date(2028, 1, 1) in feasts.holidays_in(around, country="FR")


@pytest.mark.parametrize(("country", "part"), [("", ""), ("XX", ""), ("gb", ""), ("../x", "ENG")])
def test_an_unknown_country_has_no_holidays_and_no_parts(country, part):
    assert feasts.holidays_in(year(2027), country=country, part=part) == {}
    assert feasts.parts_of(country) == {}


def test_an_unknown_part_is_passed_over():
    whole = feasts.holidays_in(year(2027), country="DE")

    assert feasts.holidays_in(year(2027), country="DE", part="Atlantis") == whole


@pytest.mark.parametrize("country", sorted(feasts.countries()))
def test_every_country_offered_answers(country):
    assert isinstance(feasts.holidays_in(year(2027), country=country), dict)
    assert all(feasts.parts_of(country).values())


def test_names_come_in_the_language_asked_for_or_a_close_one():
    autumn = Period(start=date(2027, 10, 1), end=date(2027, 10, 31))

    assert feasts.holidays_in(autumn, country="DE", language="de") == {date(2027, 10, 3): "Tag der Deutschen Einheit"}
    assert feasts.holidays_in(autumn, country="DE", language="en-gb") == {date(2027, 10, 3): "German Unity Day"}
    assert feasts.holidays_in(autumn, country="DE", language="xx") == {date(2027, 10, 3): "Tag der Deutschen Einheit"}


def test_places_are_written_by_name():
    assert feasts.place_in_words("GB", "WLS") == "United Kingdom, Wales"
    assert feasts.place_in_words("FR") == "France"
    assert feasts.countries()["BA"] == "Bosnia and Herzegovina"


def test_what_has_no_name_is_written_by_its_letters():
    assert feasts.place_in_words("XX") == "XX"
    assert feasts.place_in_words("GB", "XXX") == "United Kingdom, XXX"


def test_a_language_of_another_place_comes_before_none_and_that_of_the_place_before_others():
    """What the package has of the names in Canada and in Germany, as it stands."""
    assert feasts.holidays_in(year(2027), country="CA", part="ON", language="en-us")[date(2027, 9, 6)] == "Labor Day"
    assert feasts.holidays_in(year(2027), country="CA", part="ON", language="en-ca")[date(2027, 9, 6)] == "Labour Day"
    assert (
        feasts.holidays_in(year(2027), country="CA", part="ON", language="fr-fr")[date(2027, 9, 6)] == "Fête du Travail"
    )
    assert feasts.holidays_in(year(2027), country="DE", language="en")[date(2027, 10, 3)] == "German Unity Day"
