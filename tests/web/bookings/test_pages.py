"""The list of bookings, a booking's own page, and the deeds on it."""

import html
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import Machine, MachineKind
from kitshare.outbox.models import Message
from kitshare.rules.periods import Period
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db

LIST = "/bookings/"


def words(answer):
    return html.unescape(answer.content.decode())


def at(name, booking):
    return reverse(f"bookings:{name}", args=[booking.pk])


def queries_of(client, address):
    client.get(address)
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.fixture
def weekend(ask):
    """Ask for the weekend so many weeks after Sat 4 Sep."""

    def weekend(number, **changes):
        start = date(2027, 9, 4) + timedelta(weeks=number)
        return ask(period=Period(start=start, end=start + timedelta(days=2)), **changes)

    return weekend


# The list


def test_an_empty_list_says_what_to_do(signed_in, sunniva, sorrelhythe):
    answer = signed_in(sunniva).get(LIST)

    assert "Nothing is booked yet." in words(answer)
    assert reverse("bookings:new") in words(answer)


def test_a_borrower_sees_the_bookings_of_their_own_villages_only(signed_in, sunniva, leilani, fennerlow, weekend):
    weekend(0)
    weekend(1, village=fennerlow, borrower=leilani, by=leilani)

    text = words(signed_in(sunniva).get(LIST))

    assert "Sat 4 Sep to Mon 6 Sep" in text
    assert "Sat 11 Sep to Mon 13 Sep" not in text


def test_the_list_is_filtered_by_stage_and_by_when(signed_in, perpetua, weekend, now):
    weekend(0)
    over = weekend(1)
    bookings.call_off(booking=over, reason="", by=perpetua, at=now, revision=1)
    client = signed_in(perpetua)

    assert "Sat 11 Sep" not in words(client.get(LIST))
    assert "Sat 11 Sep" in words(client.get(LIST, {"when": "over"}))
    assert "Sat 4 Sep" not in words(client.get(LIST, {"when": "over"}))
    assert "Sat 4 Sep" in words(client.get(LIST, {"when": "all", "stage": "asked"}))
    assert "No booking fits." in words(client.get(LIST, {"stage": "out"}))


@pytest.mark.parametrize(
    "query",
    ["?sort=-village", "?sort=nonsense", "?page=99", "?page=x", "?stage=%00", "?when=%3Cscript%3E", "?sort=%00"],
)
def test_no_address_of_the_list_breaks_it(signed_in, perpetua, weekend, query):
    weekend(0)

    assert signed_in(perpetua).get(LIST + query).status_code == 200


def test_the_list_is_sorted_by_village_and_by_fruit(signed_in, perpetua, weekend, fennerlow, leilani):
    weekend(0, fruit_amount=Decimal(9))
    weekend(1, village=fennerlow, borrower=leilani, by=leilani, fruit_amount=Decimal(5))
    client = signed_in(perpetua)

    for sort in ("village", "fruit_kg"):
        text = words(client.get(LIST, {"sort": sort}))
        assert text.index("Fennerlow") < text.index("Sorrelhythe")
        text = words(client.get(LIST, {"sort": f"-{sort}"}))
        assert text.index("Sorrelhythe") < text.index("Fennerlow")


def test_the_list_shows_25_a_page(signed_in, perpetua, ask, season, heron):
    machines = [Machine.objects.create(kit=heron, name=f"Mill {n}", kind=MachineKind.MILL) for n in range(26)]
    for machine in machines:
        ask(machines=[machine])
    client = signed_in(perpetua)

    assert words(client.get(LIST)).count("Sat 11 Sep to Mon 13 Sep") == 25
    assert words(client.get(LIST, {"page": 2})).count("Sat 11 Sep to Mon 13 Sep") == 1


def test_the_list_asks_as_many_questions_for_twelve_rows_as_for_one(
    signed_in, perpetua, weekend, mill, press, otter_mill
):
    client = signed_in(perpetua)
    weekend(0, machines=[mill])
    for_one = queries_of(client, LIST)
    for number in range(1, 12):
        weekend(number, machines=[mill, press, otter_mill])

    assert queries_of(client, LIST) == for_one
    assert for_one <= 6  # session, member, scheme, count, rows, machines


# A booking's own page


def test_the_page_shows_stage_days_machines_fruit_and_history(signed_in, sunniva, ask):
    text = words(signed_in(sunniva).get(at("show", ask(note="Mind the step."))))

    for said in ("asked", "Sat 11 Sep", "Mon 13 Sep", "Heron mill", "kit-square", "20 crates", "320", "Mind the step."):
        assert said in text
    assert "Sunniva Okparadine asked for Heron mill for Sorrelhythe" in text


def test_another_villages_booking_is_not_there(signed_in, leilani, fennerlow, ask):
    booking = ask()
    client = signed_in(leilani)

    for name in ("show", "change", "decline", "call_off"):
        assert client.get(at(name, booking)).status_code == 404
    for name in ("agree", "close"):
        assert client.post(at(name, booking), {"revision": 1}).status_code == 404
    assert client.get(f"/bookings/{10**30}/").status_code == 404


def test_each_sees_the_deeds_that_are_theirs(signed_in, sunniva, perpetua, teodor, ask):
    booking = ask()

    assert "Agree the booking" in words(signed_in(perpetua).get(at("show", booking)))
    borrower = words(signed_in(sunniva).get(at("show", booking)))
    assert "Agree the booking" not in borrower
    assert "Call it off" in borrower
    assert "Call it off" not in words(signed_in(teodor).get(at("show", booking)))


def test_a_booking_at_risk_says_why_and_cannot_be_agreed(signed_in, perpetua, ask, set_aside, mill):
    booking = ask()
    set_aside(mill)
    client = signed_in(perpetua)

    text = words(client.get(at("show", booking)))
    assert "At risk" in text
    assert "Agree the booking" not in text
    refused = client.post(at("agree", booking), {"revision": 1})

    assert refused.status_code == 409
    assert "Set aside until it is mended and released: Heron mill" in words(refused)


def test_the_page_says_when_a_kit_is_overdue(signed_in, sunniva, agreed, monkeypatch, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(days=13))

    assert "overdue" in words(signed_in(sunniva).get(at("show", booking)))


@pytest.mark.parametrize("stage", Stage.values)
def test_every_stage_says_what_happens_next(signed_in, sunniva, ask, stage):
    booking = ask()
    Booking.objects.update(stage=stage)

    assert signed_in(sunniva).get(at("show", booking)).status_code == 200


def test_the_page_asks_as_many_questions_for_many_machines_and_lines_as_for_one(
    signed_in, perpetua, ask, change, mill, press, pasteuriser, otter_mill
):
    client = signed_in(perpetua)
    one = ask(machines=[mill])
    for_one = queries_of(client, at("show", one))
    many = ask(machines=[press, pasteuriser, otter_mill])
    for number in range(12):
        many = change(many, note=f"Note {number}")

    assert queries_of(client, at("show", many)) == for_one
    assert for_one <= 23


# Deeds


def test_a_coordinator_agrees_with_one_tap(signed_in, perpetua, ask):
    booking = ask()

    answer = signed_in(perpetua).post(at("agree", booking), {"revision": 1}, follow=True)

    booking.refresh_from_db()
    assert booking.stage == Stage.AGREED
    assert "Agreed. The village is told." in words(answer)


def test_a_second_tap_on_agree_says_what_the_first_did(signed_in, perpetua, ask):
    booking = ask()
    client = signed_in(perpetua)
    client.post(at("agree", booking), {"revision": 1})

    answer = client.post(at("agree", booking), {"revision": 1})

    assert answer.status_code == 409
    assert "Perpetua Quillstone agreed the booking of Sorrelhythe" in words(answer)
    assert Message.objects.filter(key__startswith="booking-agreed").count() == 1


@pytest.mark.parametrize("revision", ["", "x", "-1", "1e9", "9" * 50, "\x00"])
def test_a_strange_revision_is_refused_in_words(signed_in, perpetua, ask, revision):
    answer = signed_in(perpetua).post(at("agree", ask()), {"revision": revision})

    assert answer.status_code == 409
    assert "changed after you opened it" in words(answer)


def test_a_borrower_cannot_agree_close_or_decline(signed_in, sunniva, ask):
    booking = ask()
    client = signed_in(sunniva)

    assert client.post(at("agree", booking), {"revision": 1}).status_code == 403
    assert client.post(at("close", booking), {"revision": 1}).status_code == 403
    assert client.get(at("decline", booking)).status_code == 403
    assert "This is not yours to do." in words(client.post(at("decline", booking), {"revision": 1, "reason": "No"}))


def test_no_link_agrees_or_closes(signed_in, perpetua, ask):
    client = signed_in(perpetua)

    assert client.get(at("agree", ask())).status_code == 405


def test_declining_asks_for_a_reason_and_keeps_it_when_refused(signed_in, perpetua, sunniva, ask, change):
    booking = ask()
    client = signed_in(perpetua)

    empty = client.post(at("decline", booking), {"revision": 1, "reason": " "})
    assert "Say why: the village reads it." in words(empty)
    change(booking, note="Later, please.", by=sunniva)
    stale = client.post(at("decline", booking), {"revision": 1, "reason": "The lane is closed."})
    assert stale.status_code == 409
    assert "Note now: Later, please." in words(stale)
    assert "The lane is closed." in words(stale)
    client.post(at("decline", booking), {"revision": 2, "reason": "The lane is closed."})

    booking.refresh_from_db()
    assert booking.stage == Stage.DECLINED
    assert "The lane is closed." in words(client.get(at("show", booking)))


def test_calling_off_asks_once_more_and_then_frees_the_days(signed_in, sunniva, agreed):
    booking = agreed()
    client = signed_in(sunniva)

    assert "There is no way back" in words(client.get(at("call_off", booking)))
    client.post(at("call_off", booking), {"revision": booking.revision, "reason": ""})

    booking.refresh_from_db()
    assert booking.stage == Stage.CALLED_OFF
    again = client.post(at("call_off", booking), {"revision": booking.revision})
    assert again.status_code == 409
    assert "this cannot be done to it now" in words(again)


def test_a_coordinator_closes_what_is_back(signed_in, perpetua, sunniva, agreed, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    booking = bookings.mark_back(booking=booking, by=sunniva, at=now, today=date(2027, 9, 13))
    client = signed_in(perpetua)
    assert "Close the booking" in words(client.get(at("show", booking)))

    client.post(at("close", booking), {"revision": booking.revision})

    booking.refresh_from_db()
    assert booking.stage == Stage.CLOSED


# Changing


@pytest.fixture
def retype(typed):
    """What is typed to change a booking."""

    def retype(booking, **changes):
        return typed(revision=str(booking.revision)) | changes

    return retype


def test_changing_starts_from_the_booking_as_it_stands(signed_in, sunniva, ask, mill):
    text = words(signed_in(sunniva).get(at("change", ask(note="Mind the step."))))

    assert 'value="2027-09-11"' in text
    assert "Mind the step." in text
    assert f'name="machines" value="{mill.pk}" checked' in text


def test_a_change_is_looked_over_and_sent(signed_in, sunniva, agreed, retype):
    booking = agreed()
    client = signed_in(sunniva)

    looked = client.post(at("change", booking), retype(booking, out_on="2027-09-12", back_on="2027-09-14"))
    assert "it waits for a coordinator again" in words(looked)
    client.post(at("change", booking), retype(booking, out_on="2027-09-12", back_on="2027-09-14", deed="send"))

    booking.refresh_from_db()
    assert booking.period == september(12, 14)
    assert booking.stage == Stage.ASKED


def test_the_second_of_two_tabs_hears_of_the_first_and_keeps_what_was_typed(signed_in, sunniva, ask, retype, change):
    booking = ask()
    stale = retype(booking, note="From the second tab.", deed="send")
    change(booking, fruit_amount=Decimal(7))
    client = signed_in(sunniva)

    answer = client.post(at("change", booking), stale)

    assert answer.status_code == 409
    text = words(answer)
    assert "Fruit now: 7 crates." in text
    assert "From the second tab." in text
    assert 'name="revision" value="2"' in text
    booking.refresh_from_db()
    assert booking.note == ""

    client.post(at("change", booking), stale | {"revision": "2"})
    booking.refresh_from_db()
    assert booking.note == "From the second tab."


def test_taken_days_are_told_on_a_change_too(signed_in, sunniva, ask, retype, fennerlow, leilani):
    booking = ask()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(18, 20))
    fields = retype(booking, out_on="2027-09-18", back_on="2027-09-20", deed="send")

    answer = signed_in(sunniva).post(at("change", booking), fields)

    assert answer.status_code == 409
    assert "with Fennerlow" in words(answer)
    assert 'name="revision" value="1"' in words(answer)
    booking.refresh_from_db()
    assert booking.period == september(11, 13)


def test_what_has_left_cannot_be_changed_and_the_page_says_so(signed_in, sunniva, agreed, retype, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    client = signed_in(sunniva)

    answer = client.post(at("change", booking), retype(booking), follow=True)

    assert answer.redirect_chain
    assert "The booking is out" in words(answer)
