"""What a phone keeps for a yard without signal, and for whom."""

import pytest
from django.core.signals import request_started
from playwright.sync_api import expect

from kitshare.people.models import Scheme
from tests.browser.phones import kept_pages, ready, tick, wait_until


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


def test_other_pages_seen_with_signal_fetch_no_kept_page_anew(at_a_phone, sunniva, agreed_booking):
    phone = at_a_phone(sunniva)
    ready(phone, agreed_booking)
    asked = []

    def hear(environ, **_of_the_signal):
        asked.append(environ["PATH_INFO"])

    request_started.connect(hear)
    phone.go("/bookings/")
    phone.page.wait_for_timeout(2000)
    request_started.disconnect(hear)

    assert "/bookings/" in asked
    assert [path for path in asked if path.startswith("/checks/")] == []


def test_signing_in_as_somebody_else_takes_away_what_was_kept(at_a_phone, sunniva, leilani, agreed_booking):
    phone = at_a_phone(sunniva)
    ready(phone, agreed_booking)
    assert len(kept_pages(phone.page)) == 2

    phone.page.context.clear_cookies()
    phone.sign_in(leilani)

    assert kept_pages(phone.page) == []


def test_a_new_version_of_the_site_takes_neither_ticks_nor_pages_away(at_a_phone, sunniva, agreed_booking):
    phone = at_a_phone(sunniva)
    page = phone.page
    ready(phone, agreed_booking)
    pickup = f"/checks/pickup/{agreed_booking.pk}/"
    page.context.set_offline(True)
    phone.go(pickup)
    tick(page, "Feed guard")
    phone.sees("1 of 5 looked at")
    versions = "async () => (await caches.keys()).filter((name) => !name.startsWith('kitshare-pages-'))"
    before = page.evaluate(versions)

    Scheme.objects.update(telephone="01632 960 199")  # as good as new files: what a phone keeps of the site has changed
    page.context.set_offline(False)
    phone.go("/bookings/")
    page.evaluate("navigator.serviceWorker.ready.then((kept) => kept.update())")
    wait_until(page, lambda: len(page.evaluate(versions)) == 1 and page.evaluate(versions) != before)

    page.context.set_offline(True)
    phone.go(pickup)
    phone.sees("1 of 5 looked at")
    phone.go("/people/me/")
    expect(page.locator(".ring a")).to_have_text("01632 960 199")


def test_the_briefing_read_once_can_be_read_again_without_signal(at_a_phone, sunniva, agreed_booking):
    phone = at_a_phone(sunniva)
    page = phone.page
    phone.go("/")  # from here on the worker answers
    page.evaluate("navigator.serviceWorker.ready.then(() => 0)")
    phone.go("/briefing/")
    wait_until(page, lambda: "/briefing/" in kept_pages(page))

    page.context.set_offline(True)
    phone.go("/briefing/")

    expect(page.get_by_role("heading", level=1)).to_contain_text("riefing")
