"""What a phone keeps for a yard without signal, and for whom."""

import pytest
from playwright.sync_api import expect

from tests.browser.phones import kept_pages, ready


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def test_a_booking_opened_once_brings_its_checks_along_and_nothing_private_stays_for_the_next(
    at_a_phone, sunniva, leilani, agreed_booking
):
    phone = at_a_phone(sunniva)
    page = phone.page
    ready(phone, agreed_booking)

    page.context.set_offline(True)
    phone.go(f"/checks/pickup/{agreed_booking.pk}/")
    expect(page.get_by_role("heading", name="Pickup check")).to_be_visible()
    expect(page.get_by_role("group", name="Drive pin").first).to_be_visible()
    expect(page.locator(".ring a")).to_have_text("01632 960 123")
    assert page.evaluate("getComputedStyle(document.querySelector('.tray')).borderLeftWidth") == "7px"
    phone.go(f"/checks/return/{agreed_booking.pk}/")
    expect(page.get_by_role("heading", name="Return check")).to_be_visible()

    phone.go("/people/me/")
    phone.sees("No signal")
    expect(page.locator(".ring a")).to_have_text("01632 960 123")
    expect(page.locator("[data-kept-pages]")).to_contain_text("Pickup check, Sorrelhythe")
    assert "Okparadine" not in page.content()

    page.context.set_offline(False)
    phone.go("/")
    page.get_by_text("Menu").click()
    phone.press("Sign out")
    phone.sees("E-mail address")
    assert kept_pages(page) == []
    phone.sign_in(leilani)
    page.context.set_offline(True)
    phone.go(f"/checks/pickup/{agreed_booking.pk}/")
    phone.sees("No signal")
    assert "Sorrelhythe" not in page.content()


def test_signing_in_as_somebody_else_takes_away_what_was_kept(at_a_phone, sunniva, leilani, agreed_booking):
    phone = at_a_phone(sunniva)
    ready(phone, agreed_booking)
    assert len(kept_pages(phone.page)) == 2

    phone.page.context.clear_cookies()
    phone.sign_in(leilani)

    assert kept_pages(phone.page) == []
