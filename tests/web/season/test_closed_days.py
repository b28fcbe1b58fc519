"""Closed days over HTTP: who closes and opens what, what a refused form keeps, and that the list costs the same."""

import re
from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from kitshare.bookings import closing
from kitshare.bookings.models import BookedDay, ClosedKind, ClosedSpell, DayKind
from kitshare.people.holidays_shown import show_holidays

pytestmark = pytest.mark.django_db
LIST = "/season/closed-days/"
DEPOT = f"{LIST}close/depot/"
SERVICE = f"{LIST}close/service/"
HOLIDAY = f"{LIST}close/holiday/"
CHOICE = "/season/holidays/"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def typed(depot):
    return {"depot": depot.pk, "first_day": "2027-09-18", "last_day": "2027-09-20", "reason": "Roof repairs"}


@pytest.fixture
def closed(depot, mill, perpetua, now, today):
    """The depot, Sat 18 to Mon 20 Sep."""
    return closing.close_days(
        kind=ClosedKind.DEPOT,
        depot=depot,
        machines=(),
        first_day=date(2027, 9, 18),
        last_day=date(2027, 9, 20),
        reason="Roof repairs",
        by=perpetua,
        at=now,
        today=today,
    )


@pytest.fixture
def of_wales(scheme, perpetua, season, now):
    """A season that lasts until the holidays of December."""
    season.closes_on = date(2027, 12, 31)
    season.save()
    return show_holidays(scheme=scheme, country="GB", part="WLS", by=perpetua, at=now)


def test_a_depot_is_closed_and_the_list_says_what_and_why(signed_in, perpetua, mill, typed):
    client = signed_in(perpetua)

    assertRedirects(client.post(DEPOT, typed), LIST)

    page = client.get(LIST)
    assertContains(page, "Sat 18 Sep to Mon 20 Sep")
    assertContains(page, "depot closed: Roof repairs")
    assertContains(page, "Old Goods Shed, Withyhurn")
    assert BookedDay.objects.filter(machine=mill, kind=DayKind.CLOSED).count() == 3


def test_one_day_needs_no_last_day(signed_in, perpetua, mill, typed):
    signed_in(perpetua).post(DEPOT, typed | {"last_day": ""})

    assert ClosedSpell.objects.get().last_day == date(2027, 9, 18)


def test_a_maintenance_volunteer_sends_machines_away_and_closes_no_depot(signed_in, teodor, mill, press, typed):
    client = signed_in(teodor)

    sent = client.post(SERVICE, typed | {"machines": [mill.pk]})

    assertRedirects(sent, LIST)
    assert set(BookedDay.objects.values_list("machine", flat=True)) == {mill.pk}
    assertContains(client.get(LIST), "Heron mill")
    assert client.get(DEPOT).status_code == 403
    assertNotContains(client.get(LIST), DEPOT)


def test_a_borrower_reads_closed_days_and_changes_none(signed_in, sunniva, closed):
    client = signed_in(sunniva)

    page = client.get(LIST)

    assertContains(page, "Roof repairs")
    assertNotContains(page, "Open again")
    for address in (DEPOT, SERVICE, HOLIDAY, reverse("season:open_again", args=[closed.pk]), CHOICE):
        assert client.get(address).status_code == 403


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"first_day": "2027-08-31"}, "The first day is past."),
        ({"first_day": "2027-09-21"}, "The last day is not before the first."),
        ({"last_day": "2028-09-20"}, "Close a year at most in one go."),
        ({"last_day": "soon"}, "Write the day as year-month-day"),
        ({"first_day": ""}, "Give the first day that is closed."),
        ({"reason": "  "}, "Say why in a few words"),
        ({"reason": "x" * 121}, "at most 120 characters"),
        ({"depot": "9" * 40}, "Choose one of the depots shown."),
    ],
)
def test_a_refused_form_says_what_is_wrong_and_keeps_what_was_typed(signed_in, perpetua, mill, typed, changes, words):
    answer = signed_in(perpetua).post(DEPOT, typed | changes)

    assertContains(answer, words)
    assertContains(answer, "<title>Error:")
    kept = typed | changes
    for name in ("first_day", "last_day", "reason"):
        assert not kept[name].strip() or f'value="{kept[name]}"' in answer.content.decode()
    assert not ClosedSpell.objects.exists()


def test_bookings_in_the_way_are_named_and_nothing_is_closed(
    signed_in, perpetua, sorrelhythe, sunniva, mill, book, typed
):
    booking = book(sorrelhythe, sunniva, [mill], 19)

    answer = signed_in(perpetua).post(DEPOT, typed)

    assertContains(answer, "A booking stands in the way.", status_code=409)
    assertContains(answer, "Heron mill: with Sorrelhythe from Sun 19 Sep to Tue 21 Sep.", status_code=409)
    for page in ("bookings:show", "season:move"):
        assertContains(answer, reverse(page, args=[booking.pk]), status_code=409)
    assertContains(answer, 'value="Roof repairs"', status_code=409)
    assert not ClosedSpell.objects.exists()


def test_days_are_opened_again_after_one_more_question(signed_in, perpetua, closed):
    client = signed_in(perpetua)
    address = reverse("season:open_again", args=[closed.pk])

    assertContains(client.get(address), "Roof repairs")
    assert BookedDay.objects.count() == 3
    assertRedirects(client.post(address), LIST)

    assert not BookedDay.objects.exists()
    assert client.post(address).status_code == 404


def test_what_is_over_cannot_be_opened_and_stands_in_a_list_of_its_own(signed_in, perpetua, closed, monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now.replace(month=10))
    client = signed_in(perpetua)

    answer = client.post(reverse("season:open_again", args=[closed.pk]), follow=True)

    assertContains(answer, "there is nothing left to open")
    assertContains(answer, "No day is closed.")
    assertContains(client.get(f"{LIST}?when=over"), "Roof repairs")


def test_holidays_are_closed_by_ticking_them(signed_in, perpetua, of_wales, mill):
    client = signed_in(perpetua)

    page = client.get(HOLIDAY)
    assertContains(page, "United Kingdom, Wales")
    assertContains(page, "Mon 27 Dec: Christmas Day (observed)")  # the 25th is a Saturday
    assertRedirects(client.post(HOLIDAY, {"days": ["2027-12-25", "2027-12-27"]}), LIST)

    assert list(ClosedSpell.objects.order_by("first_day").values_list("kind", "first_day")) == [
        ("holiday", date(2027, 12, 25)),
        ("holiday", date(2027, 12, 27)),
    ]
    assertNotContains(client.get(HOLIDAY), "2027-12-25")


@pytest.mark.parametrize("days", [[], ["2027-09-11"], ["x"]])
def test_a_day_that_is_no_holiday_is_not_closed_as_one(signed_in, perpetua, of_wales, mill, days):
    answer = signed_in(perpetua).post(HOLIDAY, {"days": days})

    assertContains(answer, "<title>Error:")
    assert not ClosedSpell.objects.exists()


def test_all_the_holidays_are_closed_or_none(signed_in, perpetua, of_wales, sorrelhythe, sunniva, mill, book_days):
    book_days(sorrelhythe, sunniva, [mill], date(2027, 12, 27))

    answer = signed_in(perpetua).post(HOLIDAY, {"days": ["2027-12-25", "2027-12-27"]})

    assertContains(answer, "with Sorrelhythe", status_code=409)
    assert re.search(r'<input[^>]*value="2027-12-25"[^>]*checked', answer.content.decode())
    assert not ClosedSpell.objects.exists()


def test_without_a_country_the_page_of_holidays_says_what_to_do(signed_in, perpetua, season):
    assertContains(signed_in(perpetua).get(HOLIDAY), "No country has been chosen yet")


def test_a_country_can_be_looked_at_before_it_is_chosen(signed_in, perpetua, season, scheme):
    client = signed_in(perpetua)

    looked_at = client.post(CHOICE, {"country": "FR", "part": "", "deed": "look"})
    scheme.refresh_from_db()
    assertContains(looked_at, "Thu 11 Nov: Armistice")
    assert scheme.holiday_country == ""
    assertRedirects(client.post(CHOICE, {"country": "FR", "part": ""}), LIST)

    scheme.refresh_from_db()
    assert scheme.holiday_country == "FR"


@pytest.mark.parametrize("typed", [{"country": "XX"}, {"country": "GB", "part": "BY"}, {"country": "9" * 40}])
def test_an_unknown_country_or_part_is_refused(signed_in, perpetua, season, scheme, typed):
    assertContains(signed_in(perpetua).post(CHOICE, typed), "Choose from the list.")


def test_an_unknown_kind_is_no_page(signed_in, perpetua):
    assert signed_in(perpetua).get(f"{LIST}close/nonsense/").status_code == 404


@pytest.mark.parametrize("many", [1, 12])
def test_the_list_costs_the_same_however_long_it_is(
    signed_in, perpetua, mill, now, today, many, django_assert_num_queries
):
    for number in range(many):
        closing.close_days(
            kind=ClosedKind.SERVICE,
            depot=None,
            machines=[mill],
            first_day=date(2027, 9, 2 + number),
            last_day=date(2027, 9, 2 + number),
            reason="A new belt",
            by=perpetua,
            at=now,
            today=today,
        )
    client = signed_in(perpetua)

    with django_assert_num_queries(6):  # session, member, scheme; how many, the spells, their machines
        client.get(LIST)
