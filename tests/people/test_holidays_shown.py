"""Choosing whose holidays the season shows."""

import pytest

from kitshare.logbook.models import Entry
from kitshare.people.holidays_shown import HolidaysUnknown, show_holidays

pytestmark = pytest.mark.django_db


def test_a_country_and_its_part_are_kept_and_written_down(scheme, perpetua, now):
    shown = show_holidays(scheme=scheme, country="GB", part="WLS", by=perpetua, at=now)

    shown.refresh_from_db()
    assert (shown.holiday_country, shown.holiday_part) == ("GB", "WLS")
    [line] = Entry.objects.about(scheme)
    assert line.text == "Holidays shown in the season: United Kingdom, Wales."


def test_the_same_choice_again_writes_nothing(scheme, perpetua, now):
    show_holidays(scheme=scheme, country="GB", part="", by=perpetua, at=now)
    show_holidays(scheme=scheme, country="GB", part="", by=perpetua, at=now)

    assert Entry.objects.about(scheme).count() == 1


def test_none_can_be_shown_again(scheme, perpetua, now):
    show_holidays(scheme=scheme, country="FR", part="", by=perpetua, at=now)

    assert show_holidays(scheme=scheme, country="", part="", by=perpetua, at=now).holiday_country == ""


@pytest.mark.parametrize(
    ("country", "part", "field"),
    [("XX", "", "country"), ("GB", "BY", "part"), ("", "ENG", "part"), ("FR", "x", "part")],
)
def test_what_no_holidays_are_known_for_is_refused(scheme, perpetua, now, country, part, field):
    with pytest.raises(HolidaysUnknown) as refusal:
        show_holidays(scheme=scheme, country=country, part=part, by=perpetua, at=now)

    assert refusal.value.field == field
    scheme.refresh_from_db()
    assert scheme.holiday_country == ""
