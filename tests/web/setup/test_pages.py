"""The scheme's settings and its seasons."""

from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.bookings.models import Season
from kitshare.people.models import Scheme
from tests.bookings.test_seasons import booking  # noqa: F401

pytestmark = pytest.mark.django_db

SCRIPT = '<script>alert("x")</script>'
SETTINGS = {
    "name": "Linnow Vale",
    "telephone": "01632 960 999",
    "time_zone": "Europe/Paris",
    "units": "us",
    "crate_kg": "18.5",
    "sack_kg": "20",
    "pomace_sack_kg": "12",
    "offer_hours": "12",
}
SEASON = {"name": "Spring pears", "opens_on": "2028-03-01", "closes_on": "2028-04-01"}


def text(answer) -> str:
    return answer.content.decode()


def test_the_settings_are_saved(signed_in, perpetua):
    page = text(signed_in(perpetua).post(reverse("setup:scheme"), SETTINGS, follow=True))

    scheme = Scheme.objects.get()
    assert "The scheme&#x27;s settings are saved." in page
    assert (scheme.time_zone, scheme.units, scheme.crate_kg) == ("Europe/Paris", "us", Decimal("18.5"))
    assert "01632 960 999" in page


def test_a_demonstration_cannot_be_made_or_unmade(signed_in, perpetua):
    signed_in(perpetua).post(reverse("setup:scheme"), SETTINGS | {"is_demonstration": "on"})
    assert not Scheme.objects.get().is_demonstration

    Scheme.objects.update(is_demonstration=True)
    signed_in(perpetua).post(reverse("setup:scheme"), SETTINGS)
    assert Scheme.objects.get().is_demonstration


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"crate_kg": "-1"}, "greater than or equal to"),
        ({"crate_kg": "101"}, "less than or equal to"),
        ({"sack_kg": "NaN"}, "Enter a number."),
        ({"pomace_sack_kg": "heavy"}, "Enter a number."),
        ({"offer_hours": "0"}, "greater than or equal to 1"),
        ({"offer_hours": "169"}, "less than or equal to 168"),
        ({"telephone": ""}, "This field is required."),
        ({"time_zone": "Atlantis"}, "No time zone is called Atlantis"),
        ({"units": "stones"}, "not one of the available choices"),
    ],
)
def test_a_refused_setting_keeps_what_was_typed_and_changes_nothing(signed_in, perpetua, change, words):
    page = text(signed_in(perpetua).post(reverse("setup:scheme"), SETTINGS | change))

    assert words in page
    assert 'value="Linnow Vale"' in page
    assert "<span>Linnow Vale Pressing Share</span>" in page
    assert Scheme.objects.get().name == "Linnow Vale Pressing Share"


def test_the_calendar_of_the_scheme_gets_a_new_address(signed_in, perpetua, scheme):
    browser = signed_in(perpetua)
    before = text(browser.get(reverse("setup:scheme")))

    after = text(browser.post(reverse("setup:scheme_feed"), follow=True))

    assert scheme.feed_token in before
    assert scheme.feed_token not in after
    assert Scheme.objects.get().feed_token in after


def test_a_season_is_added_and_changed(signed_in, perpetua, season):
    browser = signed_in(perpetua)

    added = text(browser.post(reverse("setup:season_new"), SEASON, follow=True))
    spring = Season.objects.get(name="Spring pears")
    address = reverse("setup:season_change", args=[spring.pk])
    form = text(browser.get(address))
    browser.post(address, SEASON | {"closes_on": "2028-04-02"})

    assert "Spring pears can be booked now." in added
    assert 'value="2028-03-01"' in form
    assert str(Season.objects.get(pk=spring.pk).closes_on) == "2028-04-02"


def test_an_overlapping_season_is_refused_by_the_field(signed_in, perpetua, season):
    page = text(signed_in(perpetua).post(reverse("setup:season_new"), SEASON | {"opens_on": "2027-11-30"}))

    assert page.count("Two seasons share no day.") == 2
    assert 'value="Spring pears"' in page


def test_shrinking_below_a_booking_says_which(signed_in, perpetua, season, booking):  # noqa: F811
    address = reverse("setup:season_change", args=[season.pk])

    page = text(
        signed_in(perpetua).post(address, {"name": "Short", "opens_on": "2027-09-04", "closes_on": "2027-11-30"})
    )

    assert "Sorrelhythe, Fri 3 Sep 2027" in page
    assert "<h1>Change Autumn 2027</h1>" in page
    assert 'value="Short"' in page


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "31/12/2027 ", "x", "2027-02-30"])
def test_a_strange_day_is_refused(signed_in, perpetua, day):
    answer = signed_in(perpetua).post(reverse("setup:season_new"), SEASON | {"closes_on": day})

    assert answer.status_code == 200
    assert "There is a problem" in text(answer)


def test_a_script_is_shown_as_text(signed_in, perpetua):
    browser = signed_in(perpetua)
    pages = [
        browser.post(reverse("setup:scheme"), SETTINGS | {"name": SCRIPT, "telephone": SCRIPT}, follow=True),
        browser.post(reverse("setup:season_new"), SEASON | {"name": SCRIPT}, follow=True),
        browser.get(reverse("setup:what_next")),
    ]

    for page in pages:
        assert page.status_code == 200
        assert "<script>alert" not in text(page)
        assert "&lt;script&gt;" in text(page)


def test_the_list_of_seasons_says_what_to_do_when_it_is_empty(signed_in, perpetua):
    assert "so nothing can be booked. Add the next one." in text(signed_in(perpetua).get(reverse("setup:seasons")))


def test_the_list_of_seasons_asks_as_often_for_twelve_rows(
    signed_in, perpetua, season, django_assert_num_queries, django_assert_max_num_queries
):
    browser = signed_in(perpetua)
    with django_assert_max_num_queries(6) as few:
        browser.get(reverse("setup:seasons"))
    for year in range(2030, 2041):
        Season.objects.create(name=f"Autumn {year}", opens_on=f"{year}-09-01", closes_on=f"{year}-10-01")
    with django_assert_num_queries(len(few)):
        browser.get(reverse("setup:seasons"))


def test_a_season_that_is_not_there_is_not_found(signed_in, perpetua):
    assert signed_in(perpetua).get(reverse("setup:season_change", args=[10**30])).status_code == 404
