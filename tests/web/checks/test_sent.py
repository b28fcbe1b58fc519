"""The sheets that could not become the check: who sees them, what stands on them, and how they are settled."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck
from kitshare.checks.sent_models import SentSheet, SheetState

pytestmark = pytest.mark.django_db

PHONE = {"X-Kitshare-Phone": "1"}
LIST = "checks:sent_list"


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def send(signed_in, sunniva, pickup_address, filled, now):
    def send(*, by=sunniva, **changes):
        signed = {"made_at": now.isoformat(), "sent_at": now.isoformat(), "deed": "finish"}
        return signed_in(by).post(pickup_address, filled(**(signed | changes)), headers=PHONE)

    return send


@pytest.fixture
def kept(send, agreed_booking, sunniva, now, other, lead):
    """A sheet of a booking that was called off meanwhile."""
    bookings.call_off(booking=agreed_booking, reason="", by=sunniva, at=now, revision=agreed_booking.revision)
    send(note="All loaded", **other(lead, "worn", note="Frayed <b>"))
    return SentSheet.objects.get()


def test_a_kept_sheet_is_loud_on_the_first_page_the_list_and_the_booking(
    kept, signed_in, perpetua, sunniva, agreed_booking
):
    browser, address = signed_in(perpetua), reverse("checks:sent", args=[kept.pk])

    assert "1 sheet from a phone could not be recorded as it came." in words(browser.get("/"))
    assert address in words(browser.get(reverse(LIST)))
    assert address in words(browser.get(reverse("bookings:show", args=[agreed_booking.pk])))
    assert "could not be recorded" not in words(signed_in(sunniva).get("/"))


def test_the_page_shows_all_that_was_signed(kept, signed_in, sunniva):
    page = words(signed_in(sunniva).get(reverse("checks:sent", args=[kept.pk])))

    for said in ("All loaded", "Frayed &lt;b&gt;", "12 of 12, sound", "Sunniva Okparadine", "called off"):
        assert said in page


def test_a_coordinator_settles_it_with_a_word_and_it_is_loud_no_more(kept, signed_in, perpetua):
    browser, address = signed_in(perpetua), reverse("checks:sent", args=[kept.pk])

    empty = browser.post(address, {"deed": "deal_with", "note": " "})
    again = browser.post(address, {"deed": "again"})
    done = browser.post(address, {"deed": "deal_with", "note": "Rang Sunniva: it never left."}, follow=True)

    assert "Say what was done about it: somebody will ask." in words(empty)
    assert "It still cannot be recorded" in words(again)
    assert "Rang Sunniva: it never left." in words(done)
    assert "No sheet waits for anybody." in words(browser.get(reverse(LIST)))
    assert address in words(browser.get(f"{reverse(LIST)}?which=all"))


def test_it_is_recorded_from_its_page_once_nothing_is_in_its_way(kept, signed_in, perpetua, agreed_booking):
    agreed_booking.refresh_from_db()
    agreed_booking.stage = Stage.AGREED
    agreed_booking.save()

    signed_in(perpetua).post(reverse("checks:sent", args=[kept.pk]), {"deed": "again"})

    agreed_booking.refresh_from_db()
    assert agreed_booking.stage == Stage.OUT


@pytest.mark.parametrize(("who", "status"), [("sunniva", 200), ("perpetua", 200), ("leilani", 404), ("teodor", 404)])
def test_a_sheet_is_for_whoever_sent_it_and_the_coordinators(who, status, request, kept, signed_in):
    browser, address = signed_in(request.getfixturevalue(who)), reverse("checks:sent", args=[kept.pk])

    assert browser.get(address).status_code == status
    if who != "perpetua":
        browser.post(address, {"deed": "deal_with", "note": "Mine"})
        kept.refresh_from_db()
        assert kept.dealt_at is None


def test_the_check_shows_what_the_second_saw_with_both_names(send, teodor, other, cloths, signed_in, sunniva):
    send()
    send(by=teodor, signed_name="Teodor Haskerby", **other(cloths, "sound", count="10", note="Two on the line"))

    page = words(signed_in(sunniva).get(reverse("checks:show", args=[HandoverCheck.objects.get().pk])))

    assert "Also checked by Teodor Haskerby" in page
    assert "Sunniva Okparadine: 12 of 12, sound<br>Teodor Haskerby: 10 of 12, sound. Two on the line" in page
    assert '<span class="word word-stop">seen worse</span>' in page


def test_a_handover_in_spite_is_loud_on_every_page_until_the_kit_is_back(
    send, other, drive_pin, signed_in, perpetua, agreed_booking, now
):
    send(in_spite="1", **other(drive_pin, "missing"))
    check = HandoverCheck.objects.get()
    browser = signed_in(perpetua)
    pages = ["/", reverse("bookings:show", args=[agreed_booking.pk]), reverse("checks:show", args=[check.pk])]

    shown = [words(browser.get(page)) for page in pages]
    bookings.mark_back(booking=agreed_booking, by=perpetua, at=now, today=now.date())
    after = words(browser.get("/"))

    for page in shown:
        assert "in spite of a stop" in page
        assert "Drive pin is missing." in page
    assert "in spite of a stop" not in after


def test_the_list_asks_the_same_few_questions_at_one_row_and_at_twelve(
    kept, signed_in, perpetua, django_assert_num_queries
):
    browser = signed_in(perpetua)
    for rows in (1, 12):
        for _more in range(rows - SentSheet.objects.count()):
            kept.pk, kept.key = None, uuid.uuid4()
            kept.dealt_at, kept.dealt_by = (kept.received_at + timedelta(hours=1), perpetua)
            kept.save(force_insert=True)
        with django_assert_num_queries(5):
            page = words(browser.get(f"{reverse(LIST)}?which=all"))
        assert page.count(str(SheetState.KEPT.label)) == rows
