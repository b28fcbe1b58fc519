"""Moving a booking over HTTP: choosing days, looking the move over, and being told why not."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.moving import move_booking
from kitshare.kits.models import Machine, MachineKind

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def address(agreed):
    """Of the Heron mill and press, agreed for Sorrelhythe from Sat 11 to Mon 13 Sep."""
    return reverse("season:move", args=[agreed.pk])


@pytest.fixture
def sent(agreed):
    return {"out_on": "2027-09-18", "back_on": "2027-09-20", "revision": str(agreed.revision)}


def test_the_page_offers_near_days_a_month_of_days_and_days_of_ones_own(
    signed_in, perpetua, address, fennerlow, leilani, press, book
):
    book(fennerlow, leilani, [press], 18)

    page = signed_in(perpetua).get(address)

    assertContains(page, 'href="?out_on=2027-09-10">Fri 10 Sep to Sun 12 Sep</a>')
    assertContains(page, '<td class="choose-now"><strong>11</strong> <span>now</span></td>', html=True)
    assertContains(page, '<a href="?out_on=2027-09-14"><strong>14</strong> <span>fits</span></a>')
    assertContains(page, '<a href="?out_on=2027-09-18"><strong>18</strong> <span>why not</span></a>')
    assertNotContains(page, "?out_on=2027-08-31")
    assertContains(page, 'name="back_on"')
    assertContains(page, 'href="?month=2027-10#month"')


def test_days_are_looked_over_before_anything_moves(signed_in, perpetua, address, agreed, sunniva):
    page = signed_in(perpetua).get(address, {"out_on": "2027-09-18"})

    assertContains(page, "Nothing is moved yet.")
    assertContains(page, "Sat 11 Sep – Mon 13 Sep")
    assertContains(page, "<strong>Sat 18 Sep – Mon 20 Sep</strong>")
    assertContains(page, "7 days later")
    assertContains(page, "Sunniva Okparadine, by mail")
    assertContains(page, "Heron mill, Heron press")
    assert Booking.objects.get().out_on == date(2027, 9, 11)


def test_whoever_has_no_address_is_telephoned_and_the_page_says_so(signed_in, perpetua, address, sunniva):
    sunniva.email = None
    sunniva.save()

    page = signed_in(perpetua).get(address, {"out_on": "2027-09-18"})

    assertContains(page, "Sunniva Okparadine, by telephone: the call stands under Post")


def test_sent_from_there_it_moves(signed_in, perpetua, address, agreed, sent):
    answer = signed_in(perpetua).post(address, sent, follow=True)

    assertRedirects(answer, reverse("bookings:show", args=[agreed.pk]))
    assertContains(answer, "Moved to Sat 18 Sep to Mon 20 Sep.")
    assert Booking.objects.get().period.start == date(2027, 9, 18)


def test_dragged_in_the_month_it_leads_back_to_the_month(signed_in, perpetua, address, sent):
    client = signed_in(perpetua)

    page = client.get(address, {"out_on": "2027-10-02", "was": "2027-09-11", "then": "season"})

    assertContains(page, '<input type="hidden" name="then" value="season">')
    assertNotContains(page, "after you opened the calendar")
    moved = client.post(address, sent | {"out_on": "2027-10-02", "back_on": "2027-10-04", "then": "season"})
    assertRedirects(moved, "/season/?month=2027-10")


def test_dragged_from_where_it_no_longer_is_the_page_says_so(signed_in, perpetua, address):
    page = signed_in(perpetua).get(address, {"out_on": "2027-09-18", "was": "2027-09-04"})

    assertContains(page, "This booking was moved after you opened the calendar: it goes out on Sat 11 Sep now.")


def test_taken_days_are_explained_with_the_nearest_as_choices_and_nothing_moves(
    signed_in, perpetua, address, fennerlow, leilani, press, book, sent
):
    book(fennerlow, leilani, [press], 18)
    client = signed_in(perpetua)

    for answer in (client.get(address, {"out_on": "2027-09-18", "then": "season"}), client.post(address, sent)):
        assertContains(answer, "It cannot move there", status_code=409)
        assertContains(answer, "Heron press: with Fennerlow from Sat 18 Sep to Mon 20 Sep.", status_code=409)
        assertContains(answer, "?out_on=2027-09-15&amp;back_on=2027-09-17", status_code=409)
    assert Booking.objects.get(village__name="Sorrelhythe").out_on == date(2027, 9, 11)


@pytest.mark.parametrize(
    ("typed", "words", "status"),
    [
        ({"out_on": "soon"}, "Write the day as year-month-day", 200),
        ({"out_on": ""}, "Give the day it goes out.", 200),
        ({"out_on": "2027-09-18", "back_on": "2027-09-18"}, "It comes back after it goes out", 200),
        ({"out_on": "2027-09-18", "back_on": "x"}, "Write the day as year-month-day", 200),
        ({"out_on": "2027-09-11"}, "It has these days already.", 200),
        ({"out_on": "9999-12-31"}, "Ensure this value is less than or equal to", 200),
        ({"out_on": "2027-08-31"}, "Tue 31 Aug is past.", 409),
        ({"out_on": "2027-12-24"}, "Outside the season.", 409),
        ({"out_on": "2027-09-18", "back_on": "2027-10-18"}, "A booking lasts 21 days at most", 409),
    ],
)
def test_days_that_cannot_be_are_refused_in_words(signed_in, perpetua, address, typed, words, status):
    answer = signed_in(perpetua).get(address, typed)

    assertContains(answer, words, status_code=status)
    assertContains(answer, "<title>Error:", status_code=status)
    if status == 200 and typed["out_on"]:
        assertContains(answer, f'value="{typed["out_on"]}"')


def test_the_second_of_two_tabs_is_told_what_the_first_one_did_and_may_go_on(
    signed_in, perpetua, address, agreed, sent, now, today
):
    move_booking(
        booking=agreed, period=agreed.period.shifted(14), by=perpetua, at=now, today=today, revision=agreed.revision
    )
    client = signed_in(perpetua)

    answer = client.post(address, sent)

    assertContains(answer, "This booking was changed after you opened it:", status_code=409)
    assertContains(answer, "Days now: Sat 25 Sep to Mon 27 Sep.", status_code=409)
    assertContains(answer, f'name="revision" value="{agreed.revision + 1}"', status_code=409)
    assertRedirects(
        client.post(address, sent | {"revision": agreed.revision + 1}), reverse("bookings:show", args=[agreed.pk])
    )


def test_a_borrower_moves_their_own_and_hears_that_it_waits_again(signed_in, sunniva, leilani, address, sent):
    client = signed_in(sunniva)
    assertContains(client.get(address, {"out_on": "2027-09-18"}), "On other days it waits for a coordinator again.")

    client.post(address, sent)

    assert Booking.objects.get().stage == Stage.ASKED
    assert signed_in(leilani).get(address).status_code == 404


def test_a_maintenance_volunteer_moves_nothing(signed_in, teodor, address):
    assert signed_in(teodor).get(address).status_code == 403


def test_what_has_left_leads_to_its_page(signed_in, perpetua, address, agreed, now):
    bookings.mark_out(booking=agreed, by=perpetua, at=now + timedelta(days=10))

    answer = signed_in(perpetua).get(address, follow=True)

    assertRedirects(answer, reverse("bookings:show", args=[agreed.pk]))
    assertContains(answer, "this cannot be done to it now")


def test_a_booking_that_may_move_leads_there_from_its_page_and_from_the_month(signed_in, perpetua, teodor, address):
    client = signed_in(perpetua)
    for page in (address.replace("season/move", "bookings"), "/season/?month=2027-09"):
        assertContains(client.get(page), f'href="{address}')
    assertNotContains(signed_in(teodor).get("/season/?month=2027-09"), address)


@pytest.mark.parametrize("many", [1, 12])
def test_the_page_costs_the_same_however_full_the_season_is(
    signed_in, perpetua, address, heron, fennerlow, leilani, press, book, many, django_assert_max_num_queries
):
    for number in range(many):
        machine = Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL)
        book(fennerlow, leilani, [machine], 18)
    client = signed_in(perpetua)

    # session, member, scheme; the booking with its machines; the season twice, the taken days
    with django_assert_max_num_queries(9):
        client.get(address)
