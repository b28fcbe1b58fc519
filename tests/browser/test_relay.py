"""A relay from arranging it at a desk to the check with two names on one phone."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Stage
from kitshare.bookings.relay_models import Relay
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.rules.periods import Period
from tests.checks.conftest import all_sound, parts, pick_up

__all__ = ["all_sound", "parts", "pick_up"]


@pytest.fixture
def clock(monkeypatch, now):
    class Clock:
        at = now

    monkeypatch.setattr(timezone, "now", lambda: Clock.at)
    return Clock


@pytest.fixture
def second(pick_up, fennerlow, leilani, mill, press, now, today):
    """Sorrelhythe has the kit out; Fennerlow asks for it two days later."""
    pick_up()
    return bookings.book_kit(
        village=fennerlow,
        borrower=leilani,
        machines=[mill, press],
        period=Period(start=date(2027, 9, 6), end=date(2027, 9, 8)),
        fruit_amount=Decimal(400),
        fruit_unit="kg",
        note="",
        by=leilani,
        at=now,
        today=today,
    )


def test_a_relay_is_arranged_at_a_desk_and_checked_by_two_at_one_phone(
    at_a_phone, perpetua, sunniva, agreed_booking, second, parts, clock
):
    desk = at_a_phone(perpetua, width=1280)
    desk.go(f"/bookings/{second.pk}/")
    desk.follow("Arrange a relay")
    desk.page.get_by_label("Where they meet").fill("Barn by the standpipe")
    desk.page.get_by_label("Who carries it").fill("Fennerlow, with the van")
    desk.press("Arrange the relay")
    desk.sees("Arranged. Both villages are told.")
    desk.sees("Sorrelhythe hands on to Fennerlow")

    clock.at = datetime(2027, 9, 4, 9, 15, tzinfo=UTC) - timedelta(minutes=5)
    phone = at_a_phone(sunniva)
    phone.go(f"/bookings/{agreed_booking.pk}/")
    phone.follow("Do the relay check")
    page = phone.page
    for part in parts:
        page.get_by_role("group", name=part.name).first.get_by_text("Sound and all here").click()
    phone.sees("5 of 5 looked at")
    page.get_by_label("It was cleaned down").check()
    page.get_by_label("Name: hands over for Sorrelhythe").fill("Sunniva Okparadine")
    page.get_by_label("Name: takes it on for Fennerlow").fill("Leilani Crabbwater")
    page.get_by_role("button", name="Hand on to Fennerlow").dblclick()
    phone.sees("Handed on.")

    assert page.evaluate("document.documentElement.scrollWidth") == 390
    relay = Relay.objects.with_bookings().get()
    assert (relay.first.stage, relay.second.stage) == (Stage.BACK, Stage.OUT)
    assert HandoverCheck.objects.filter(kind=CheckKind.RELAY).count() == 1
