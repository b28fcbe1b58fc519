"""A check with a thumb: trays pressed flat, counts by buttons, photos kept as they are taken, one check for two taps."""

import pytest
from playwright.sync_api import Page, expect

from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck, Photo
from tests.checks.sheets import picture
from tests.world import PASSWORD


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def part(page: Page, name: str):
    return page.get_by_role("group", name=name).first


def sign(page: Page) -> None:
    page.get_by_label("Your name").fill("Sunniva Okparadine")
    page.get_by_label("borrower: I sign for the village").check()


def test_a_pickup_with_a_thumb(at_a_phone, sunniva, agreed_booking, guard, lead, cloths):
    person = at_a_phone(sunniva)
    person.go(f"/checks/pickup/{agreed_booking.pk}/")
    page = person.page
    tins = page.locator("[data-tray]", has_text="Red tin, in the hopper")
    person.sees("0 of 5 looked at")

    part(page, "Drive pin").get_by_text("Sound and all here").click()
    expect(tins).not_to_have_attribute("open", "")
    expect(tins.locator("summary").first).to_be_focused()
    person.sees("1 of 5 looked at")

    page.get_by_role("link", name="Next part").click()
    expect(part(page, "Feed guard")).to_be_focused()
    for name in ("Feed guard", "Sanitiser sachets"):
        part(page, name).get_by_text("Sound and all here").click()

    cloth = part(page, "Cloths")
    cloth.get_by_text("Not all right").click()
    cloth.get_by_role("button", name="One fewer").click()
    cloth.get_by_role("button", name="One fewer").click()
    cloth.get_by_role("button", name="One more").click()
    person.sees("3 of 5 looked at")
    cloth.get_by_text("worn", exact=True).click()
    person.sees("4 of 5 looked at")

    leads = part(page, "Mill lead")
    leads.get_by_text("Not all right").click()
    leads.get_by_text("missing", exact=True).click()
    expect(leads.locator(".disc")).to_have_class("disc disc-missing")
    leads.get_by_label("Take a photo", exact=True).set_input_files(
        {"name": "a.txt", "mimeType": "image/jpeg", "buffer": b"no"}
    )
    person.sees("could not be read as a photo")
    good = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    leads.get_by_label("Take a photo", exact=True).set_input_files(good)
    leads.get_by_alt_text("Photo of Mill lead, kept").wait_for()
    expect(leads.locator("[data-photo-word]")).to_have_text("Received")
    assert Photo.objects.count() == 1

    sign(page)
    page.get_by_role("button", name="Hand over the kit").dblclick()
    person.sees("Handed over.")
    check = HandoverCheck.objects.get()
    assert (check.lines.get(part=cloths).count, check.lines.get(part=lead).photo) == (11, Photo.objects.get())
    assert page.evaluate("document.documentElement.scrollWidth") == 390


def test_a_stopped_pickup_keeps_all_that_was_tapped_and_shows_the_way_back_to_the_part(
    at_a_phone, sunniva, agreed_booking, parts_sound
):
    person = at_a_phone(sunniva)
    person.go(f"/checks/pickup/{agreed_booking.pk}/")
    page = person.page
    parts_sound(page, besides="Drive pin")
    part(page, "Drive pin").get_by_text("Not all right").click()
    part(page, "Drive pin").get_by_text("missing", exact=True).click()
    sign(page)

    person.sees("The kit does not go out like this")
    person.press("Hand over the kit")
    expect(page.locator("[data-stop-box]")).to_be_focused()
    assert HandoverCheck.objects.count() == 0
    person.sees("5 of 5 looked at")
    page.get_by_role("link", name="Drive pin is missing.", exact=True).click()
    expect(part(page, "Drive pin")).to_be_focused()
    page.get_by_label("A spare was put in its place").locator("visible=true").check()
    expect(page.locator("[data-stop-box]")).to_be_hidden()
    person.press("Hand over the kit")

    person.sees("Handed over.")
    agreed_booking.refresh_from_db()
    assert agreed_booking.stage == Stage.OUT


@pytest.fixture
def parts_sound(drive_pin, guard, lead, cloths, sanitiser):
    """Tap "sound and all here" at every part but one."""

    def tap(page: Page, *, besides: str) -> None:
        for thing in (drive_pin, guard, lead, cloths, sanitiser):
            if thing.name != besides:
                part(page, thing.name).get_by_text("Sound and all here").click()

    return tap


def test_without_script_every_tray_stays_open_and_the_sheet_is_a_plain_form(
    chromium, live_server, sunniva, agreed_booking, parts_sound
):
    context = chromium.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{live_server.url}/people/sign-in/?next=/checks/pickup/{agreed_booking.pk}/")
    page.get_by_label("E-mail address").fill(sunniva.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()

    parts_sound(page, besides="nothing")
    assert page.locator("[data-tray]:not([open])").count() == 0
    assert page.get_by_role("button", name="One fewer").locator("visible=true").count() == 0
    sign(page)
    page.get_by_role("button", name="Hand over the kit").click()

    page.get_by_text("Handed over.").wait_for()
    context.close()
    assert HandoverCheck.objects.count() == 1
