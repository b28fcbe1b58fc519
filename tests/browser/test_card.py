"""The card for the yard is one printed page on either paper, and the clock follows what is typed."""

import re
from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.pressdays import kinds
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep

LONG = "of a long name that goes on to the very end of its line"


@pytest.fixture
def book(sorrelhythe, sunniva, season, now, today):
    def book(machines, kg):
        return bookings.book_kit(
            village=sorrelhythe,
            borrower=sunniva,
            machines=machines,
            period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
            fruit_amount=Decimal(kg),
            fruit_unit="kg",
            note="",
            by=sunniva,
            at=now,
            today=today,
        )

    return book


@pytest.fixture
def everything_long(mill, press, pasteuriser, teodor, perpetua, now):
    """Eight kinds of container with long names, three faults with long notes: as much as a card may have to hold."""
    for number in range(8):
        kinds.add_container_kind(
            name=f"{number + 1} {LONG}"[:60],
            litres=Decimal("0.75"),
            fill_fraction=Decimal("0.96"),
            material="glass",
            reused_glass=True,
            usual_parts=1,
            position=number,
            by=perpetua,
            at=now,
        )
    for machine in (mill, press, pasteuriser):
        note = f"It squeals {LONG}. " * 5
        upkeep.report_fault(machine=machine, part=None, note=note, severity="use_with_care", by=teodor, at=now)
    return [mill, press, pasteuriser]


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def test_the_card_is_one_page_of_a4_or_letter_for_a_big_day_and_a_small_one(
    at_a_phone, perpetua, everything_long, book, call_off_all
):
    person = at_a_phone(perpetua)
    for machines, kg, batches in ((everything_long, 2_400, 18), (everything_long[1:2], 90, 0)):
        booking = book(machines, kg)
        person.go(f"/press-days/{booking.pk}/card/")
        assert person.page.locator(".card-log tbody tr").count() == batches
        assert person.page.evaluate("document.documentElement.scrollWidth") == 390
        printed = {paper: pages(person.page.pdf(format=paper)) for paper in ("A4", "Letter")}
        assert printed == {"A4": 1, "Letter": 1}
        call_off_all()


@pytest.fixture
def call_off_all(perpetua, now):
    def call_off_all():
        for booking in bookings.Booking.objects.ahead():
            bookings.call_off(booking=booking, reason="Hail.", by=perpetua, at=now, revision=booking.revision)

    return call_off_all


def test_the_clock_follows_what_is_typed_without_losing_it(at_a_phone, sunniva, perpetua, mill, press, book, now):
    kinds.add_starter_kinds(by=perpetua, at=now)
    booking = book([mill, press], 400)
    person = at_a_phone(sunniva)
    person.go(f"/press-days/{booking.pk}/clock/")
    page = person.page
    person.sees("Pressing: 2 helpers")

    helpers = page.get_by_label("Helpers")
    helpers.fill("1")
    person.sees("Washing, milling, pressing and filling: one helper")
    helpers.fill("0")
    person.sees("There is no clock for what is typed now.")
    helpers.fill("30")
    person.sees("without a fixed place")

    assert helpers.input_value() == "30"
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert page.locator("svg.clock-tall").is_visible()
    assert not page.locator("svg.clock-wide").is_visible()
    assert not ClockPlan.objects.exists()
    person.press("Save hands and hours")
    person.sees("Hands and hours are saved.")
    assert ClockPlan.objects.get().helpers == 30
