"""The month by mouse and by keyboard: a booking is carried to other days, looked over, and moved."""

import pytest
from playwright.sync_api import expect

from kitshare.bookings.models import Booking
from tests.bookings.conftest import agreed, ask

__all__ = ["agreed", "ask"]


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def booking(agreed):
    """The Heron mill, agreed for Sorrelhythe from Sat 11 to Mon 13 Sep."""
    return agreed()


def bar(page):
    return page.locator(".grid a", has_text="Sorrelhythe")


def test_a_booking_dragged_to_other_days_is_looked_over_and_moved(at_a_phone, perpetua, booking):
    person = at_a_phone(perpetua, width=1280)
    page = person.page
    person.go("/season/?month=2027-09")
    bar(page).scroll_into_view_if_needed()
    place, column = bar(page).bounding_box(), page.locator("thead th").nth(2).bounding_box()
    middle = place["y"] + place["height"] / 2

    page.mouse.move(place["x"] + 5, middle)
    page.mouse.down()
    page.mouse.move(place["x"] + 5 + column["width"] * 2, middle, steps=4)
    person.sees("Goes out Mon 13 Sep")
    page.mouse.up()
    page.wait_for_url("**/season/move/**")

    person.sees("Nothing is moved yet.")
    person.sees("Mon 13 Sep – Wed 15 Sep")
    assert Booking.objects.get().out_on.day == 11
    person.press("Move the booking")
    page.wait_for_url("**/season/?month=2027-09")
    person.sees("Moved to Mon 13 Sep to Wed 15 Sep.")
    assert Booking.objects.get().out_on.day == 13

    # A press without a drag opens the booking's page, as on any link.
    bar(page).click()
    page.wait_for_url(f"**/bookings/{booking.pk}/")


def test_the_same_by_keyboard_and_a_refusal_offers_days_that_fit(
    at_a_phone,
    perpetua,
    booking,
    ask,
    fennerlow,
    leilani,
):
    ask(village=fennerlow, borrower=leilani, by=leilani, period=booking.period.shifted(7))
    person = at_a_phone(perpetua, width=1280)
    page = person.page
    person.go("/season/?month=2027-09")

    bar(page).focus()
    for key in ("Space", "ArrowRight", "Escape"):
        page.keyboard.press(key)
    expect(page.locator("#move-status")).to_be_empty()
    for key in ("Space", "ArrowDown", "ArrowRight"):
        page.keyboard.press(key)
    person.sees("Goes out Sun 19 Sep")
    page.keyboard.press("Enter")
    page.wait_for_url("**/season/move/**")

    person.sees("Heron mill: with Fennerlow from Sat 18 Sep to Mon 20 Sep.")
    assert Booking.objects.get(pk=booking.pk).out_on.day == 11
    page.get_by_role("link", name="Thu 16 Sep to Sat 18 Sep").or_(
        page.get_by_role("link", name="Tue 21 Sep to Thu 23 Sep")
    ).first.focus()
    page.keyboard.press("Enter")
    person.sees("Nothing is moved yet.")
    page.get_by_role("button", name="Move the booking").focus()
    page.keyboard.press("Enter")
    person.sees("Moved to")
    assert Booking.objects.get(pk=booking.pk).out_on.day == 21


def test_two_taps_on_a_phone_move_it_too(at_a_phone, sunniva, booking):
    person = at_a_phone(sunniva)
    person.go("/season/?month=2027-09")

    person.follow("Move")
    person.page.get_by_role("link", name="25 fits").click()
    person.sees("On other days it waits for a coordinator again.")
    person.press("Move the booking")

    person.sees("Moved to Sat 25 Sep to Mon 27 Sep.")
    assert person.page.evaluate("document.documentElement.scrollWidth") == 390
