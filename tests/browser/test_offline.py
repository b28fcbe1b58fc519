"""A check in a yard without signal: nothing typed is lost, and each thing arrives once, whatever breaks in between."""

import io
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from kitshare.bookings.models import Stage
from kitshare.checks.models import CheckLine, HandoverCheck, Photo
from kitshare.outbox.models import Message
from kitshare.upkeep.models import Fault
from tests.browser.phones import (
    Line,
    differs,
    kept_bytes,
    kept_pages,
    line,
    panel,
    part,
    photo_word,
    photograph,
    ready,
    send_until,
    sign,
    tick,
    wait_until,
    written,
)

ROOM = 1_500_000  # bytes: enough for the site itself, and too little for a photo
# Every write fails as it does on a full phone: a browser that has just asked for room believes in it for half a minute.
NO_ROOM = """() => {
  IDBObjectStore.prototype.put = () => { throw new DOMException("No room.", "QuotaExceededError"); };
}"""
OTHERS = ("Feed guard", "Drive pin", "Sanitiser sachets")


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def phone(at_a_phone, sunniva, agreed_booking):
    """Sunniva's phone, with the booking opened once where there was signal."""
    one = at_a_phone(sunniva)
    ready(one, agreed_booking)
    return one


@pytest.fixture
def pickup(agreed_booking):
    return f"/checks/pickup/{agreed_booking.pk}/"


def test_a_check_made_without_signal_survives_a_closed_tab_and_is_sent_by_itself_once(
    phone, pickup, agreed_booking, lead, cloths
):
    context = phone.page.context
    # Without sync in the background it is the page that sends, whose request can be seen and sent once more.
    context.add_init_script("delete ServiceWorkerRegistration.prototype.sync")
    context.set_offline(True)
    phone.go(pickup)
    tick(phone.page, "Feed guard", "Drive pin")
    assert phone.page.get_by_role("button", name="Leave this photo out").locator("visible=true").count() == 0
    photograph(differs(phone.page, "Mill lead", "damaged"), (3000, 1500), lying=True)
    photo_word(part(phone.page, "Mill lead"), "Kept on this phone")
    with Image.open(io.BytesIO(kept_bytes(phone.page))) as small:
        assert (small.size, dict(small.getexif())) == ((800, 1600), {})
    part(phone.page, "Mill lead").get_by_label("Note", exact=True).fill("Plug is cracked.")
    cloth = differs(phone.page, "Cloths", "worn")
    cloth.get_by_role("button", name="One fewer").click()
    phone.page.get_by_label("Your name").fill("Sunniva Ok")
    line(phone.page, "Kept on this phone")
    phone.page.close()

    phone.page = page = context.new_page()
    phone.go(pickup)
    phone.sees("4 of 5 looked at")
    expect(part(page, "Mill lead").get_by_alt_text("Photo of Mill lead, kept")).to_be_visible()
    expect(part(page, "Mill lead").get_by_label("Note", exact=True)).to_have_value("Plug is cracked.")
    expect(part(page, "Cloths").get_by_label("How many are there")).to_have_value("11")
    expect(page.get_by_label("Your name")).to_have_value("Sunniva Ok")
    sign(page)
    phone.press("Hand over the kit")
    phone.sees("Sanitiser sachets: not looked at yet.")
    tick(page, "Sanitiser sachets")
    phone.press("Hand over the kit")
    panel(page, "Kept on this phone")
    panel(page, "sent by itself as soon as there is signal")
    assert written() == (0, 0, 0, 0)

    sent = []
    page.on("request", lambda one: sent.append(one) if one.method == "POST" and one.url.endswith(pickup) else None)
    context.set_offline(False)
    panel(page, "Received at")
    phone.sees("Handed over.")
    assert written() == (1, 5, 1, 2)  # the lead is damaged, and a cloth is missing
    check = HandoverCheck.objects.get()
    assert (check.signed_name, check.by.name) == ("Sunniva Okparadine", "Sunniva Okparadine")
    assert check.lines.get(part=lead).note == "Plug is cracked."
    assert (check.lines.get(part=cloths).count, check.lines.get(part=cloths).condition) == (11, "worn")
    with Photo.objects.get().image.open() as kept:
        assert b"Exif" not in kept.read()
    assert (Photo.objects.get().image.width, Photo.objects.get().image.height) == (800, 1600)

    said = {_again(context, one) for one in sent[-1:] * 5}
    assert len(said) == 1
    assert written() == (1, 5, 1, 2)
    phone.go(f"/checks/return/{agreed_booking.pk}/")
    phone.sees("Return check")
    context.set_offline(True)
    phone.go(f"/checks/return/{agreed_booking.pk}/")
    phone.sees("Went out:")


def _again(context, request) -> str:
    """The very same bytes once more; what was answered."""
    headers = {name: value for name, value in request.all_headers().items() if not name.startswith(":")}
    answer = context.request.post(request.url, data=request.post_data_buffer, headers=headers)
    assert answer.status == 200
    return answer.text()


def test_a_photo_cut_in_the_middle_and_an_answer_that_is_lost_are_sent_again(
    at_a_phone, live_server, sunniva, agreed_booking, pickup, lead
):
    photos = f"/checks/photos/{agreed_booking.pk}/"
    with Line(live_server.url) as poor:
        phone = at_a_phone(sunniva, site=poor.address)
        phone.go(pickup)
        tick(phone.page, *OTHERS, "Cloths")
        poor.cut_after[photos] = 900
        photograph(differs(phone.page, "Mill lead", "damaged"))
        photo_word(part(phone.page, "Mill lead"), "Kept on this phone")
        sign(phone.page)
        poor.lose_answer |= {photos, pickup}
        phone.press("Hand over the kit")
        send_until(phone.page, "Received at")

    assert poor.broken == [photos, photos, pickup]
    assert written() == (1, 5, 1, 1)
    assert Photo.objects.count() == 1


def test_a_stop_is_said_at_once_without_signal_and_going_on_in_spite_of_it_reaches_the_coordinator_first(
    phone, pickup, agreed_booking, perpetua, drive_pin
):
    page = phone.page
    page.context.set_offline(True)
    phone.go(pickup)
    tick(page, "Feed guard", "Mill lead", "Cloths", "Sanitiser sachets")
    differs(page, "Drive pin", "missing")
    stop = page.locator("[data-stop-box]")
    expect(stop).to_contain_text("Drive pin is missing. Without it the day is lost.")
    expect(stop.locator("a[href^='tel:']")).to_have_text("01632 960 123")
    sign(page)
    phone.press("Hand over the kit")
    expect(stop).to_be_focused()
    stop.get_by_text("If it goes out all the same").click()
    stop.get_by_label("I hand it over in spite of this").check()
    phone.press("Hand over the kit")
    panel(page, "Kept on this phone")
    told_before = Message.objects.count()

    page.context.set_offline(False)
    panel(page, "Recorded as handed over in spite of this")
    assert written() == (1, 5, 0, 1)
    agreed_booking.refresh_from_db()
    assert agreed_booking.stage == Stage.OUT
    first = Message.objects.order_by("pk")[told_before]
    assert (first.to_address, "in spite" in first.subject) == (perpetua.email, True)


def test_a_stopped_pickup_without_signal_is_reported_and_another_check_may_begin(phone, pickup):
    page = phone.page
    page.context.set_offline(True)
    phone.go(pickup)
    differs(page, "Feed guard", "damaged")
    sign(page)
    phone.press("Keep the kit here and report")
    panel(page, "Kept on this phone")
    phone.press("Begin another check of this kit")
    phone.sees("0 of 5 looked at")
    box = page.locator("[data-phone-box]")
    expect(box).to_contain_text("Kept on this phone, not sent yet", timeout=15_000)

    page.context.set_offline(False)
    expect(box).to_be_hidden(timeout=15_000)
    phone.go(pickup)
    phone.sees("it does not go out")
    assert (HandoverCheck.objects.get().outcome, Fault.objects.count()) == ("stopped", 1)


def test_signed_out_meanwhile_it_waits_and_nothing_of_it_shows_to_the_next(phone, pickup, sunniva, leilani):
    page = phone.page
    phone.go(pickup)
    tick(page, *OTHERS, "Mill lead", "Cloths")
    sign(page)
    page.context.clear_cookies(name="sessionid")
    phone.press("Hand over the kit")
    panel(page, "it is sent after you sign in, and only by you")
    page.get_by_role("link", name="Sign in to send").click()

    asked = []
    page.on("request", lambda one: asked.append(one.url) if one.url.endswith("/phone/token/") else None)
    phone.sign_in(leilani)
    phone.sees("A check of somebody else waits on this phone until they sign in.")
    assert kept_pages(page) == []
    wait_until(page, lambda: len(asked) == 1)  # as the page opens it asks who is signed in, once
    page.wait_for_timeout(6000)
    assert len(asked) == 1  # the page looks every five seconds, and finds nothing of hers
    phone.go(pickup)
    assert "Sorrelhythe" not in page.content()
    assert "Okparadine" not in page.content()
    assert written() == (0, 0, 0, 0)

    page.context.clear_cookies(name="sessionid")
    phone.sign_in(sunniva)
    expect(page.get_by_text("somebody else waits")).to_have_count(0)
    phone.go(pickup)
    # The database of this test turns a second writer away: then the phone comes again after some seconds.
    page.get_by_text(re.compile("Received at|handed over already")).first.wait_for(timeout=30_000)
    assert written() == (1, 5, 0, 0)


def test_two_phones_on_one_kit_are_both_kept_and_their_differences_shown(
    at_a_phone, phone, pickup, sunniva, perpetua, agreed_booking, lead
):
    other = at_a_phone(perpetua)
    ready(other, agreed_booking)
    for one in (phone, other):
        one.page.context.set_offline(True)
        one.go(pickup)
        tick(one.page, *OTHERS, "Cloths")
    tick(phone.page, "Mill lead")
    photograph(differs(other.page, "Mill lead", "damaged"))
    photo_word(part(other.page, "Mill lead"), "Kept on this phone")
    for one, name in ((phone, "Sunniva Okparadine"), (other, "Perpetua Quillstone")):
        sign(one.page, name)
        one.press("Hand over the kit")
        panel(one.page, "Kept on this phone")

    phone.page.context.set_offline(False)
    panel(phone.page, "Handed over.")
    other.page.context.set_offline(False)
    panel(other.page, "Sunniva Okparadine")
    panel(other.page, "Mill lead")

    assert written()[:2] == (1, 5)
    assert (Photo.objects.count(), Fault.objects.count()) == (1, 1)
    assert CheckLine.objects.get(part=lead).condition == "sound"


def test_a_full_phone_says_so_at_once_and_the_check_goes_through_without_photos(
    at_a_phone, sunniva, agreed_booking, pickup
):
    phone = at_a_phone(sunniva, room=ROOM)
    page = phone.page
    phone.go(pickup)
    tick(page, *OTHERS, "Cloths")
    line(page, "Kept on this phone")
    page.context.set_offline(True)
    lead = differs(page, "Mill lead", "damaged")
    photograph(lead, noise=True)
    expect(lead.locator("[data-photo-word]")).to_contain_text("This phone is full, and there is no signal")
    sign(page)
    phone.press("Hand over the kit")
    panel(page, "Send now")

    page.context.set_offline(False)
    panel(page, "Received at")
    assert written() == (1, 5, 0, 1)


def test_a_phone_without_any_room_sends_the_check_from_its_page(at_a_phone, sunniva, agreed_booking, pickup):
    phone = at_a_phone(sunniva)
    page = phone.page
    phone.go(pickup)
    page.evaluate(NO_ROOM)
    tick(page, *OTHERS, "Mill lead", "Cloths")
    line(page, "Not kept: this phone is full")
    phone.sees("so what you tick now is not kept")
    sign(page)
    page.context.set_offline(True)
    phone.press("Hand over the kit")
    panel(page, "Not kept: this phone is full")

    page.context.set_offline(False)
    page.evaluate(
        "for (const _ of [1, 2]) window.dispatchEvent(new Event('online'))"
    )  # what waits for its turn is sent once
    panel(page, "Received at")
    page.wait_for_timeout(1000)
    panel(page, "Received at")
    assert written() == (1, 5, 0, 0)


def test_a_check_is_paused_on_one_phone_and_carried_on_by_another_member_on_another(
    at_a_phone, phone, pickup, perpetua
):
    phone.go(pickup)
    tick(phone.page, "Feed guard", "Drive pin")
    photograph(differs(phone.page, "Mill lead", "damaged"))
    photo_word(part(phone.page, "Mill lead"), "Received")
    phone.press("Pause, and carry on later")
    panel(phone.page, "Paused at")

    other = at_a_phone(perpetua)
    other.go(pickup)
    other.page.get_by_role("link", name="Carry on").first.click()
    other.sees("3 of 5 looked at")
    tick(other.page, "Cloths", "Sanitiser sachets")
    sign(other.page, "Perpetua Quillstone")
    other.press("Hand over the kit")
    panel(other.page, "Handed over.")
    assert written() == (1, 5, 1, 1)
