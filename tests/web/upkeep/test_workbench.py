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
    """The faults of the page, in its order."""
    shown = [row.record for row in answer.context["table"].paginated_rows]
    return [row.pk if isinstance(row, Fault) else row.key for row in shown if isinstance(row, Fault) or row.is_fault]


def titles(answer) -> list[str]:
    return [row.record.line.title for row in answer.context["table"].paginated_rows]


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

    assert "Nothing waits to be mended, and nothing falls due in the next two weeks." in page
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


def test_faults_tests_and_services_stand_in_one_list_by_what_matters(
    signed_in, teodor, report, book, plan_care, mill, press, otter_mill, pasteuriser
):
    book(mill, out_on=date(2027, 9, 12), back_on=date(2027, 9, 13))
    book(press, out_on=date(2027, 9, 14), back_on=date(2027, 9, 15))
    report(machine=press, note="Cracked.")
    report(machine=otter_mill, note="Unbooked.")
    plan_care()
    plan_care(machine=otter_mill, name="Trip switch", kind="trip_switch", due_on=date(2027, 8, 20))
    plan_care(machine=pasteuriser, name="Descaled", kind="service", due_on=date(2027, 8, 2))
    plan_care(machine=pasteuriser, name="Far off", kind="service", due_on=date(2027, 9, 16))

    answer = signed_in(teodor).get(WORKBENCH)

    assert titles(answer) == [
        "Heron mill: Electrical test",
        "Heron press",
        "Otter mill: Trip switch",
        "Heron pasteuriser: Descaled",
        "Otter mill",
    ]
    page = answer.content.decode()
    for why in (
        "Goes out again in 11 days, to Fennerlow (Sun 12 Sep). The test comes first.",
        "Due since Fri 20 Aug 2027: nobody hands the machine over until it has passed. No booking waits for it.",
        "Due since Mon 2 Aug 2027; it stops nothing. No booking waits for it.",
    ):
        assert why in page


def test_a_vital_part_that_two_machines_share_is_as_urgent_as_the_sooner_of_them(
    signed_in, teodor, report, book, mill, press, pasteuriser, drive_pin
):
    drive_pin.also_serves.add(press)
    book(pasteuriser, out_on=date(2027, 9, 4), back_on=date(2027, 9, 5))
    book(press, out_on=date(2027, 9, 3), back_on=date(2027, 9, 4))
    other = report(machine=pasteuriser)
    shared = report(part=drive_pin)

    answer = signed_in(teodor).get(WORKBENCH)

    assert shown_keys(answer) == [shared.pk, other.pk]


def test_a_booking_whose_days_are_over_makes_nothing_urgent(signed_in, teodor, report, book, mill, monkeypatch):
    book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    report()
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_: date(2027, 9, 6))

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


def test_the_cost_is_the_same_at_ten_faults_and_at_a_thousand(
    signed_in, teodor, sunniva, heron, otter_mill, book, now, plan_care, django_assert_num_queries
):
    machines = [Machine.objects.create(kit=heron, name=f"Mill {place}", kind="mill") for place in range(12)]
    book(*machines, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    book(otter_mill, out_on=date(2027, 9, 2), back_on=date(2027, 9, 4))
    plan_care(machine=otter_mill, due_on=date(2027, 9, 1))
    browser = signed_in(teodor)
    for more, shown in ((10, 10), (990, 24)):
        facts = {"note": "Stiff.", "severity": "stops_use", "reported_by": sunniva, "reported_at": now}
        made = (Fault(machine=machines[place % 12], **facts) for place in range(more))
        Fault.objects.bulk_create(made, batch_size=200)
        browser.get(WORKBENCH)

        # session, member, scheme; what goes by use; of all that waits the outings, shared parts, faults, tests; of the page the faults,
        # tests, bookings, who has them out; bookings at risk, what is late
        with django_assert_num_queries(14):
            answer = browser.get(WORKBENCH)

        assert len(shown_keys(answer)) == shown


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
