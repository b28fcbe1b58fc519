"""Joining, answering, leaving and overruling, as people see it."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.bookings import offers
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.waiting_models import Offer, WaitingPlace
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from tests.bookings.conftest import september
from tests.bookings.waiters import village_of
from tests.web.page import Page

pytestmark = pytest.mark.django_db


def text(answer) -> str:
    return answer.content.decode()


@pytest.fixture
def offer(taken, wait, free, fennerlow, linnowby) -> Offer:
    """The weekend is offered to Fennerlow; Linnowby waits behind."""
    wait(fennerlow)
    wait(linnowby)
    free(taken)
    return Offer.objects.get()


# Joining from the page that refuses


@pytest.fixture
def wanted(typed, fennerlow, leilani):
    """What Leilani types to ask for the days that Sorrelhythe has."""
    return typed(for_whom=f"{fennerlow.pk}-{leilani.pk}", note="We could come <early>")


def test_the_refusal_offers_to_wait_and_keeps_what_was_typed(taken, wanted, send, leilani):
    page = text(send(wanted, by=leilani))

    assert "Heron mill: with Sorrelhythe from Sat 11 Sep to Mon 13 Sep." in page
    assert "The nearest free days" in page
    assert "Wait for these days" in page
    assert "We could come &lt;early&gt;" in page
    assert Page(page).wrong == []


def test_waiting_is_one_press_from_the_refusal(taken, wanted, send, leilani):
    answer = send(wanted | {"deed": "wait", "play_days": "1"}, by=leilani)

    booking = Booking.objects.get(stage=Stage.WAITING)
    assert answer.url == reverse("bookings:show", args=[booking.pk])
    assert (booking.note, booking.waiting_place.play_days) == ("We could come <early>", 1)


def test_pressed_twice_it_is_one_place(taken, wanted, send, leilani):
    for _press in range(2):
        send(wanted | {"deed": "wait", "play_days": "0"}, by=leilani)

    assert WaitingPlace.objects.count() == 1


@pytest.mark.parametrize("play_days", ["", "9", "many"])
def test_a_strange_answer_about_play_is_asked_again(taken, wanted, send, leilani, play_days):
    answer = send(wanted | {"deed": "wait", "play_days": play_days}, by=leilani)

    assert answer.status_code == 409
    assert "Choose one of the answers shown." in text(answer)
    assert "We could come &lt;early&gt;" in text(answer)
    assert not WaitingPlace.objects.exists()


def test_days_that_are_free_meanwhile_are_looked_over_instead(wanted, send, leilani):
    answer = send(wanted | {"deed": "wait", "play_days": "0"}, by=leilani)

    assert "Look it over" in text(answer)
    assert not Booking.objects.exists()


def test_a_village_that_waits_already_is_told_so_on_the_form(taken, wanted, send, leilani, wait, fennerlow):
    wait(fennerlow)

    answer = send(wanted | {"deed": "wait", "play_days": "0"}, by=leilani)

    assert "Fennerlow is on the waiting list for these days already." in text(answer)
    assert "We could come &lt;early&gt;" in text(answer)


def test_a_change_of_a_booking_does_not_offer_to_wait(taken, ask, otter_mill, mill, signed_in, sunniva, typed):
    other = ask(machines=[otter_mill])
    fields = typed(revision=other.revision)

    page = text(signed_in(sunniva).post(reverse("bookings:change", args=[other.pk]), fields))

    assert "Those days are taken" in page
    assert "Wait for these days" not in page


# An offer


def test_opening_the_offer_answers_nothing(offer, signed_in, leilani):
    page = signed_in(leilani).get(reverse("waiting:offer", args=[offer.pk]))

    assert Page(text(page)).wrong == []
    assert "Take the days" in text(page)
    assert "kept for Fennerlow until Thu 2 Sep, 09:30" in text(page)
    offer.refresh_from_db()
    assert offer.is_open


def test_the_letter_leads_to_the_offer(offer):
    body = Message.objects.get(key__startswith="offer-made").body

    assert f"/waiting/offers/{offer.pk}/" in body
    assert "kept for you until Thu 2 Sep, 09:30" in body
    assert "Collected on Sat 11 Sep at 10:00, back by Mon 13 Sep at 09:00." in body


def test_taking_the_days_is_one_press(offer, signed_in, leilani):
    answer = signed_in(leilani).post(reverse("waiting:offer", args=[offer.pk]), {"deed": "accept"}, follow=True)

    assert "Accepted. The days are held for Fennerlow" in text(answer)
    assert Booking.objects.get(pk=offer.booking_id).stage == Stage.ASKED


def test_passing_is_one_press(offer, signed_in, leilani):
    answer = signed_in(leilani).post(reverse("waiting:offer", args=[offer.pk]), {"deed": "pass"}, follow=True)

    assert "Fennerlow stays on the list." in text(answer)
    assert Offer.objects.open().get().booking.village.name == "Linnowby"


def test_an_answer_that_says_neither_is_asked_again(offer, signed_in, leilani):
    answer = signed_in(leilani).post(reverse("waiting:offer", args=[offer.pk]), {"deed": "maybe"})

    assert answer.url == reverse("waiting:offer", args=[offer.pk])
    offer.refresh_from_db()
    assert offer.is_open


def test_an_answer_that_comes_too_late_says_what_became_of_the_days(offer, signed_in, leilani):
    offers.settle(at=offer.until)

    answer = signed_in(leilani).post(reverse("waiting:offer", args=[offer.pk]), {"deed": "accept"})

    assert answer.status_code == 409
    assert "This offer ran out before it was answered." in text(answer)
    assert "Take the days" not in text(answer)


def test_an_offer_that_cannot_be_accepted_says_why(offer, signed_in, leilani, mill, teodor, now):
    upkeep.report_fault(machine=mill, part=None, note="Bent.", severity=Severity.STOPS_USE, by=teodor, at=now)

    answer = signed_in(leilani).post(reverse("waiting:offer", args=[offer.pk]), {"deed": "accept"})

    assert answer.status_code == 409
    assert "Set aside until it is mended and released: Heron mill" in text(answer)
    assert "<title>Error:" in text(answer)


def test_an_offer_is_nobody_elses(offer, signed_in, sunniva, teodor):
    address = reverse("waiting:offer", args=[offer.pk])

    assert signed_in(sunniva).get(address).status_code == 404
    assert "Take the days" not in text(signed_in(teodor).get(address))
    assert signed_in(teodor).post(address, {"deed": "accept"}).status_code == 403


def test_what_is_offered_stands_under_today(offer, signed_in, leilani):
    page = text(signed_in(leilani).get(reverse("home:home")))

    assert "Fennerlow is offered Sat 11 Sep to Mon 13 Sep. Answer by Thu 2 Sep, 09:30." in page


def test_the_season_says_to_whom_days_are_offered(offer, signed_in, sunniva):
    page = text(signed_in(sunniva).get(reverse("season:month") + "?month=2027-09"))

    assert "offered to Fennerlow" in page
    assert "not answered yet" in page


# The list


def test_the_coordinator_sees_everybody_in_order_and_why(offer, signed_in, perpetua):
    page = text(signed_in(perpetua).get(reverse("waiting:list")))

    assert page.index("Fennerlow") < page.index("Linnowby")
    assert "2 of 2 who wait for these" in page
    assert "On the list since Wed 1 Sep, 09:30." in page
    assert Page(page).wrong == []


def test_a_borrower_sees_their_own_place_and_nobody_elses_name(offer, signed_in, linnowby):
    page = text(signed_in(linnowby.borrowers.get()).get(reverse("waiting:list")))

    assert "2 of 2 who wait for these" in page
    assert "Fennerlow" not in page


def test_an_empty_list_says_how_to_join_it(signed_in, leilani, fennerlow, season):
    assert "Nobody waits." in text(signed_in(leilani).get(reverse("waiting:list")))


def test_the_list_costs_the_same_whatever_its_length(taken, wait, signed_in, perpetua):
    browser = signed_in(perpetua)

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            browser.get(reverse("waiting:list"))
        return len(caught)

    wait(village_of("Village 1", "One"))
    one = queries()
    for number in range(2, 13):
        wait(village_of(f"Village {number}", f"Borrower{number} Name"))

    assert queries() == one


def test_a_long_list_comes_in_pages(taken, wait, signed_in, perpetua):
    for number in range(26):
        wait(village_of(f"Village {number}", f"Borrower{number} Name"))

    page = text(signed_in(perpetua).get(reverse("waiting:list"), {"page": 2}))

    assert "Page 2 of 2" in page
    assert "Village 25" in page


# Deeds on a place


def test_the_bookings_page_shows_the_place_and_the_way_out(taken, wait, fennerlow, leilani, signed_in):
    booking = wait(fennerlow)

    page = text(signed_in(leilani).get(reverse("bookings:show", args=[booking.pk])))

    assert "first, nobody else waits for these" in page
    assert reverse("waiting:leave", args=[booking.pk]) in page
    assert reverse("waiting:order", args=[booking.pk]) not in page
    assert Page(page).wrong == []


def test_leaving_asks_once_more(taken, wait, fennerlow, leilani, signed_in):
    booking = wait(fennerlow)
    address = reverse("waiting:leave", args=[booking.pk])
    browser = signed_in(leilani)
    assert Page(text(browser.get(address))).wrong == []

    answer = browser.post(address, {"revision": booking.revision, "reason": ""}, follow=True)

    assert "Fennerlow is off the waiting list." in text(answer)
    assert "not on the waiting list any longer" in text(browser.get(address))


def test_the_order_is_changed_by_a_form_with_a_reason(taken, wait, fennerlow, linnowby, perpetua, signed_in):
    wait(fennerlow)
    second = wait(linnowby)
    browser = signed_in(perpetua)
    address = reverse("waiting:order", args=[second.pk])

    refused = text(browser.post(address, {"revision": second.revision, "where": "earlier", "reason": " "}))
    assert "Say why: it stands in the logbook." in refused
    assert Page(refused).wrong == []
    done = browser.post(address, {"revision": second.revision, "where": "earlier", "reason": "Frost."}, follow=True)

    assert "1 of 2 who wait for these" in text(done)
    assert "Moved by Perpetua Quillstone, Wed 1 Sep, 09:30: Frost." in text(done)


def test_a_refused_change_of_the_order_keeps_what_was_typed(taken, wait, fennerlow, perpetua, signed_in):
    only = wait(fennerlow)
    fields = {"revision": only.revision, "where": "earlier", "reason": "They rang <twice>."}

    answer = signed_in(perpetua).post(reverse("waiting:order", args=[only.pk]), fields)

    assert answer.status_code == 409
    assert "Nobody on that side of the order" in text(answer)
    assert "They rang &lt;twice&gt;." in text(answer)


def test_an_offer_out_of_turn_is_a_form_with_a_reason(offer, linnowby, perpetua, signed_in):
    second = Booking.objects.waiting().get(village=linnowby)
    address = reverse("waiting:out_of_turn", args=[second.pk])
    browser = signed_in(perpetua)
    assert Page(text(browser.get(address))).wrong == []

    browser.post(address, {"revision": second.revision, "reason": "Frost."})

    assert Offer.objects.open().get().booking == second


def test_what_another_did_meanwhile_is_told_and_the_reason_is_kept(taken, wait, fennerlow, perpetua, signed_in):
    booking = wait(fennerlow)
    fields = {"revision": booking.revision + 1, "reason": "Frost."}

    answer = signed_in(perpetua).post(reverse("waiting:out_of_turn", args=[booking.pk]), fields)

    assert answer.status_code == 409
    assert "changed after you opened it" in text(answer)
    assert "Frost." in text(answer)


def test_overruling_is_for_the_coordinator_and_leaving_for_the_village(
    taken, wait, fennerlow, leilani, sunniva, signed_in
):
    booking = wait(fennerlow)

    for name in ("order", "out_of_turn"):
        assert signed_in(leilani).get(reverse(f"waiting:{name}", args=[booking.pk])).status_code == 403
    assert signed_in(sunniva).get(reverse("waiting:leave", args=[booking.pk])).status_code == 404


def test_bookings_that_wait_are_found_by_their_stage_and_not_among_those_over(
    taken, wait, fennerlow, perpetua, signed_in
):
    wait(fennerlow)
    browser = signed_in(perpetua)

    assert "Fennerlow" in text(browser.get(reverse("bookings:list"), {"stage": "waiting"}))
    assert "Fennerlow" not in text(browser.get(reverse("bookings:list"), {"when": "over"}))


def test_what_is_only_waited_for_lies_in_no_week_of_the_stack(offer, signed_in, sunniva):
    layers = signed_in(sunniva).get(reverse("home:home")).context["layers"]

    assert sum(layer.outings for layer in layers) == 0


def test_the_first_page_asks_as_much_for_many_offers_as_for_one(ask, wait, free, fennerlow, leilani, signed_in):
    browser = signed_in(leilani)

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            browser.get(reverse("home:home"))
        return len(caught)

    def offered(start: int) -> None:
        booking = ask(period=september(start, start + 2))
        wait(fennerlow, period=booking.period)
        free(booking)

    offered(4)
    one = queries()
    for start in (8, 12, 16, 20):
        offered(start)

    assert Offer.objects.open().count() == 5
    assert queries() == one


def test_the_whole_season_shows_offered_days_and_counts_them_as_no_outing(offer, signed_in, perpetua):
    page = text(signed_in(perpetua).get(reverse("season:whole")))

    assert "offered to Fennerlow" in page
    assert "Sat 11 Sep – Mon 13 Sep: Heron mill" in page
    assert "0 outings" in page
    assert "nothing asked yet" in page
