"""Shifting a machine's bookings over HTTP: asked, looked over, shifted; refused in words."""

import re
from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from kitshare.bookings.models import Booking

pytestmark = pytest.mark.django_db
ADDRESS = "/season/shift/"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def two(sorrelhythe, fennerlow, sunniva, leilani, mill, press, book):
    return [book(sorrelhythe, sunniva, [mill, press], 11), book(fennerlow, leilani, [mill], 14)]


@pytest.fixture
def asked(mill):
    return {"machine": str(mill.pk), "days": "7", "way": "later", "from_day": "2027-09-01"}


def seen_in(answer) -> list[str]:
    return re.findall(r'name="seen" value="([^"]+)"', answer.content.decode())


def test_the_form_begins_with_the_machine_that_the_season_shows(signed_in, perpetua, mill, season):
    client = signed_in(perpetua)
    assertContains(client.get(f"/season/?machine={mill.pk}"), f'href="{ADDRESS}?machine={mill.pk}"')

    page = client.get(f"{ADDRESS}?machine={mill.pk}")

    assertContains(page, f'<option value="{mill.pk}" selected>Heron mill</option>', html=True)
    assertContains(page, 'value="2027-09-01"')


def test_who_is_affected_is_looked_over_before_anything_is_shifted(signed_in, perpetua, two, asked):
    page = signed_in(perpetua).get(ADDRESS, asked)

    assertContains(page, "Heron mill: 7 days later")
    assertContains(page, "2 bookings would move, each with all its machines.")
    assertContains(page, "<strong>Sat 18 Sep – Mon 20 Sep</strong>")
    assertContains(page, "<strong>Tue 21 Sep – Thu 23 Sep</strong>")
    assertContains(page, "Sunniva Okparadine, by mail")
    assertContains(page, "Leilani Crabbwater, by mail")
    assert seen_in(page) == [f"{booking.pk}-{booking.revision}" for booking in two]
    assert {booking.out_on.day for booking in Booking.objects.all()} == {11, 14}


def test_sent_from_there_all_are_shifted(signed_in, perpetua, two, asked, mill):
    client = signed_in(perpetua)
    seen = seen_in(client.get(ADDRESS, asked))

    answer = client.post(ADDRESS, asked | {"seen": seen}, follow=True)

    assertRedirects(answer, f"/season/?month=2027-09&machine={mill.pk}")
    assertContains(answer, "2 bookings are shifted.")
    assert {booking.out_on.day for booking in Booking.objects.all()} == {18, 21}


def test_what_stands_in_the_way_is_named_and_nothing_is_offered(
    signed_in, perpetua, two, asked, fennerlow, leilani, press, book
):
    book(fennerlow, leilani, [press], 18)
    client = signed_in(perpetua)

    for answer in (client.get(ADDRESS, asked), client.post(ADDRESS, asked | {"seen": [f"{b.pk}-1" for b in two]})):
        words = "Sorrelhythe, Sat 11 Sep to Mon 13 Sep: Heron press: with Fennerlow from Sat 18 Sep to Mon 20 Sep."
        assertContains(answer, words, status_code=409)
        assertNotContains(answer, "Shift all", status_code=409)
        query = f"?machine={asked['machine']}&amp;from_day=2027-09-01&amp;days=4&amp;way=later"
        assertContains(answer, f'href="{ADDRESS}{query}">4 days later</a>', status_code=409)
    assert Booking.objects.filter(out_on=date(2027, 9, 11)).exists()


@pytest.mark.parametrize("seen", [[], ["nonsense"], ["1-1"], ["9" * 18 + "-1"], ["1-99", "2-1"]])
def test_other_bookings_than_those_looked_over_are_shown_anew(signed_in, perpetua, two, asked, seen):
    answer = signed_in(perpetua).post(ADDRESS, asked | {"seen": seen})

    assertContains(answer, "Bookings were made or changed after you looked it over.", status_code=409)
    assert seen_in(answer) == [f"{booking.pk}-{booking.revision}" for booking in two]
    assert {booking.out_on.day for booking in Booking.objects.all()} == {11, 14}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"machine": ""}, "Choose a machine."),
        ({"machine": "9" * 40}, "Choose one of the machines shown."),
        ({"days": ""}, "Give a number of days."),
        ({"days": "x"}, "Give a whole number of days"),
        ({"days": "0"}, "greater than or equal to 1"),
        ({"days": "61"}, "less than or equal to 60"),
        ({"days": "9" * 400}, "Error:"),
        ({"way": "sideways"}, "Select a valid choice."),
        ({"way": ""}, "Choose later or earlier."),
        ({"from_day": "2027-08-31"}, "Tue 31 Aug is past."),
        ({"from_day": "soon"}, "Write the day as year-month-day"),
        ({"from_day": "2027-10-31"}, "no booking of this machine is still to go out"),
    ],
)
def test_a_refused_form_says_what_is_wrong_and_keeps_what_was_typed(signed_in, perpetua, two, asked, changes, words):
    answer = signed_in(perpetua).get(ADDRESS, asked | changes)

    assertContains(answer, words)
    assertContains(answer, "<title>Error:")
    kept = (asked | changes)["from_day"]
    assertContains(answer, f'value="{kept}"')


@pytest.mark.parametrize("who", ["sunniva", "teodor"])
def test_only_the_coordinator_shifts(signed_in, request, who, two, asked):
    client = signed_in(request.getfixturevalue(who))

    assert client.get(ADDRESS).status_code == client.post(ADDRESS, asked).status_code == 403
    assertNotContains(client.get("/season/"), ADDRESS)
    assert reverse("season:shift") == ADDRESS
