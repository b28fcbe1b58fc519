"""The workbench: what stands on top and why, who may open it, and what it costs."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from kitshare.kits.models import Machine
from kitshare.outbox import actions as outbox
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault

pytestmark = pytest.mark.django_db

WORKBENCH = "/workbench/"


def shown_keys(answer) -> list[int]:
    return [row.record.pk for row in answer.context["table"].paginated_rows]


def test_a_stranger_is_sent_to_sign_in(client, scheme):
    answer = client.get(WORKBENCH)

    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("people:sign_in"))


@pytest.mark.parametrize("address", ["upkeep:workbench", "upkeep:at_risk"])
def test_a_borrower_is_refused_with_a_sentence(signed_in, sunniva, address):
    answer = signed_in(sunniva).get(reverse(address))

    assert answer.status_code == 403
    assert "for maintenance volunteers and the coordinator" in answer.content.decode()


def test_an_empty_workbench_says_what_to_do(signed_in, teodor):
    page = signed_in(teodor).get(WORKBENCH).content.decode()

    assert "Nothing waits to be mended. If something looks wrong, report it" in page
    assert reverse("upkeep:report_where") in page


def test_worst_and_soonest_needed_stands_first(
    signed_in, teodor, report, book, mill, press, pasteuriser, otter_mill, now
):
    book(press, out_on=date(2027, 9, 11), back_on=date(2027, 9, 12))
    book(otter_mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    book(pasteuriser, out_on=date(2027, 9, 2), back_on=date(2027, 9, 3))
    looks = report(machine=pasteuriser, severity=Severity.LOOKS_ONLY)
    care = report(machine=pasteuriser, severity=Severity.USE_WITH_CARE)
    unbooked = report(machine=mill)
    later = report(machine=press)
    sooner = report(machine=otter_mill, at=now + timedelta(hours=1))

    answer = signed_in(teodor).get(WORKBENCH)

    assert shown_keys(answer) == [fault.pk for fault in (sooner, later, unbooked, care, looks)]


def test_each_line_says_why_it_stands_there(signed_in, teodor, report, book, mill, press):
    book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    report()
    report(machine=press, severity=Severity.USE_WITH_CARE)

    page = signed_in(teodor).get(WORKBENCH).content.decode()

    assert "Goes out again in 2 days, to Fennerlow (Fri 3 Sep). It may not go out like this." in page
    assert "No booking waits for it." in page


def test_a_booking_whose_days_are_over_makes_nothing_urgent(signed_in, teodor, report, book, mill, monkeypatch):
    book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    report()
    monkeypatch.setattr("django.utils.timezone.localdate", lambda: date(2027, 9, 6))

    page = signed_in(teodor).get(WORKBENCH).content.decode()

    assert "No booking waits for it." in page


def test_filters_show_mine_what_waits_for_a_retest_and_what_was_released(signed_in, teodor, report, now):
    untouched, mine, mended, released = (report(note=f"Fault {number}") for number in range(4))
    upkeep.take_fault(fault=mine, by=teodor, at=now, revision=1)
    for fault in (mended, released):
        upkeep.mend_fault(fault=fault, note="Done.", by=teodor, at=now, revision=1)
    upkeep.release_fault(fault=released, retest_note="Ran.", by=teodor, at=now, revision=2)
    browser = signed_in(teodor)

    shown = {
        show: set(shown_keys(browser.get(WORKBENCH, {"show": show}))) for show in ("open", "mine", "retest", "released")
    }

    assert shown == {
        "open": {untouched.pk, mine.pk, mended.pk},
        "mine": {mine.pk, mended.pk},
        "retest": {mended.pk},
        "released": {released.pk},
    }


@pytest.mark.parametrize("query", ["show=nonsense", "page=999", "page=x", "sort=nonsense", "sort=-hands", "sort=fault"])
def test_a_bent_address_is_answered_all_the_same(signed_in, teodor, report, query):
    report()

    assert signed_in(teodor).get(f"{WORKBENCH}?{query}").status_code == 200


@pytest.mark.parametrize("number", [1, 12, 1000])
def test_the_cost_does_not_grow_with_the_faults(
    signed_in, teodor, sunniva, heron, book, now, number, django_assert_num_queries
):
    machines = [Machine.objects.create(kit=heron, name=f"Mill {place}", kind="mill") for place in range(12)]
    book(*machines, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    Fault.objects.bulk_create(
        Fault(machine=machines[place % 12], note="Stiff.", severity="stops_use", reported_by=sunniva, reported_at=now)
        for place in range(number)
    )
    browser = signed_in(teodor)
    browser.get(WORKBENCH)

    # session, member, scheme; how many faults, the faults of the page, what is due, what needs them, who has them,
    # bookings at risk, what is late
    with django_assert_num_queries(10):
        answer = browser.get(WORKBENCH)

    assert len(shown_keys(answer)) == min(number, 25)


def test_bookings_at_risk_say_what_stops_them_and_who_was_told(
    signed_in, teodor, perpetua, leilani, report, book, mill, now
):
    booking = book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    fault = report()
    key = f"booking-at-risk:{booking.pk}:1:{fault.pk}:{leilani.pk}"
    outbox.queue(key=key, to=leilani, subject="At risk", body="The mill is set aside.", at=now)
    browser = signed_in(teodor)

    assert "1 booking is at risk" in browser.get(WORKBENCH).content.decode()
    page = browser.get(reverse("upkeep:at_risk")).content.decode()

    assert reverse("bookings:show", args=[booking.pk]) in page
    assert "It hums and does not turn." in page
    assert "Leilani Crabbwater, on its way by mail" in page


def test_a_booking_at_risk_about_which_nobody_was_told_yet_says_so(signed_in, teodor, report, book, mill):
    book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    report()

    page = signed_in(teodor).get(reverse("upkeep:at_risk")).content.decode()

    assert "nobody yet: the next round of reminders writes to them" in page


def test_without_bookings_at_risk_the_page_says_so(signed_in, teodor):
    page = signed_in(teodor).get(reverse("upkeep:at_risk")).content.decode()

    assert "No booking still to go out needs a machine that is set aside, or a safety test first." in page


@pytest.mark.parametrize("number", [1, 12])
def test_bookings_at_risk_cost_the_same_however_many(
    signed_in, teodor, report, book, mill, number, django_assert_num_queries
):
    for place in range(number):
        day = date(2027, 9, 3) + timedelta(days=2 * place)
        book(mill, out_on=day, back_on=day + timedelta(days=1))
    report()
    browser = signed_in(teodor)
    browser.get(reverse("upkeep:at_risk"))

    # session, member, scheme; how many, the bookings, their machines, their faults, their tests, who was told,
    # what is late
    with django_assert_num_queries(10):
        browser.get(reverse("upkeep:at_risk"))
