"""The pages of services and safety tests: what is due, a plan, and the deeds on it."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.upkeep.care_models import CarePlan, CareRecord
from kitshare.upkeep.models import Fault
from tests.web.page import Page

pytestmark = pytest.mark.django_db

TYPED = {
    "kind": "electrical",
    "name": "Electrical test",
    "every": "12",
    "unit": "months",
    "due_on": "2027-09-10",
    "who": "A competent person",
    "caution": "Unplug first.",
}
RECORDED = {"done_on": "2027-09-01", "done_by_name": "Odile Marchbanks", "outcome": "passed"}


def page_of(answer) -> str:
    return answer.content.decode()


def record(browser, plan, **typed):
    return browser.post(reverse("upkeep:record", args=[plan.pk]), RECORDED | typed)


# Who may


def test_a_stranger_is_sent_to_sign_in(client, plan_care):
    for address in (reverse("upkeep:due"), reverse("upkeep:plan", args=[plan_care().pk])):
        assert client.get(address)["Location"].startswith(reverse("people:sign_in"))


def test_a_borrower_reads_a_plan_and_changes_nothing(signed_in, sunniva, plan_care, mill):
    plan = plan_care()
    browser = signed_in(sunniva)

    page = page_of(browser.get(reverse("upkeep:plan", args=[plan.pk])))
    refused = [
        browser.get(reverse("upkeep:due")),
        browser.get(reverse("upkeep:plan_new", args=[mill.pk])),
        browser.get(reverse("upkeep:plan_change", args=[plan.pk])),
        browser.get(reverse("upkeep:plan_end", args=[plan.pk])),
        record(browser, plan),
    ]

    assert "Electrical test" in page
    assert "<form" not in page.partition("<main")[2]
    assert [answer.status_code for answer in refused] == [403] * 5
    assert not CareRecord.objects.exists()


# What is due


def test_without_plans_the_list_says_where_to_begin(signed_in, teodor):
    page = page_of(signed_in(teodor).get(reverse("upkeep:due")))

    assert "Nothing is planned yet. Open a machine" in page


def test_what_is_due_soonest_comes_first_with_its_standing_in_words(signed_in, teodor, plan_care, press, book, mill):
    later = plan_care(due_on=date(2027, 12, 1))
    overdue = plan_care(machine=press, kind="service", name="Spindle greased", due_on=date(2027, 8, 1))
    soon = plan_care(name="Guard check", kind="guard", due_on=date(2027, 9, 3))
    book(mill, out_on=date(2027, 9, 4), back_on=date(2027, 9, 5))

    answer = signed_in(teodor).get(reverse("upkeep:due"))

    page = page_of(answer)
    assert [row.record for row in answer.context["table"].paginated_rows] == [overdue, soon, later]
    assert [page.index(word) for word in (">overdue<", ">due soon<", ">due later<")] == sorted(
        page.index(word) for word in (">overdue<", ">due soon<", ">due later<")
    )
    assert "Goes out again in 3 days, to Fennerlow (Sat 4 Sep)." in page


@pytest.mark.parametrize("query", ["page=99", "page=x", "sort=-who", "sort=plan", "sort=nonsense"])
def test_a_bent_address_is_answered_all_the_same(signed_in, teodor, plan_care, query):
    plan_care()

    assert signed_in(teodor).get(f"{reverse('upkeep:due')}?{query}").status_code == 200


@pytest.mark.parametrize("number", [1, 12])
def test_the_list_costs_the_same_however_much_is_due(
    signed_in, teodor, plan_care, heron, book, number, django_assert_num_queries
):
    machines = [Machine.objects.create(kit=heron, name=f"Mill {place}", kind="mill") for place in range(number)]
    for machine in machines:
        plan_care(machine=machine)
    book(*machines, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    browser = signed_in(teodor)
    browser.get(reverse("upkeep:due"))

    # session, member, scheme; what goes by use, how many, the plans, what needs them, who has them, seasons, tasks left,
    # the calendar's address
    with django_assert_num_queries(11):
        answer = browser.get(reverse("upkeep:due"))

    assert len(answer.context["table"].rows) == number


# Planning and changing


def test_a_test_is_planned_from_the_machines_page(signed_in, teodor, mill):
    browser = signed_in(teodor)
    address = reverse("upkeep:plan_new", args=[mill.pk])

    assert address in page_of(browser.get(reverse("kits:machine", args=[mill.pk])))
    form = dict(Page(page_of(browser.get(address))).forms)[""]
    answer = browser.post(address, TYPED | {"form_key": form["form_key"]}, follow=True)
    browser.post(address, TYPED | {"form_key": form["form_key"]})

    plan = CarePlan.objects.get()
    assert (plan.name, plan.every, plan.due_on, plan.who) == (
        "Electrical test",
        12,
        date(2027, 9, 10),
        "A competent person",
    )
    assert "Planned. It is due first on Fri 10 Sep 2027." in page_of(answer)
    assert "Due on Fri 10 Sep 2027" in page_of(browser.get(reverse("kits:machine", args=[mill.pk])))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"every": "0"}, "Give a whole number from 1 up"),
        ({"every": "9" * 40}, "ten years at most"),
        ({"every": "121"}, "ten years at most"),
        ({"due_on": "2027-02-30"}, "Enter a valid date"),
        ({"kind": "magic"}, "Select a valid choice"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(signed_in, teodor, mill, typed, sentence):
    answer = signed_in(teodor).post(reverse("upkeep:plan_new", args=[mill.pk]), TYPED | typed)

    assert answer.status_code == 422
    assert sentence in page_of(answer)
    assert "Unplug first." in page_of(answer)
    assert not CarePlan.objects.exists()


def test_a_name_taken_is_said_beside_the_name(signed_in, teodor, mill, plan_care):
    plan_care()

    answer = signed_in(teodor).post(reverse("upkeep:plan_new", args=[mill.pk]), TYPED)

    assert answer.context["form"].errors["name"] == [
        "“Electrical test” is planned for Heron mill already. Change that plan, or choose a name."
    ]


def test_moving_the_due_day_asks_why(signed_in, teodor, plan_care):
    plan = plan_care()
    browser = signed_in(teodor)
    address = reverse("upkeep:plan_change", args=[plan.pk])

    refused = browser.post(address, TYPED | {"due_on": "2027-10-01"})
    browser.post(address, TYPED | {"due_on": "2027-10-01", "reason": "The tester comes then."})

    plan.refresh_from_db()
    assert refused.context["form"].errors["reason"] == ["Say why it is due on another day."]
    assert plan.due_on == date(2027, 10, 1)


def test_of_two_tabs_the_second_is_told_and_goes_by_what_it_then_saw(signed_in, teodor, plan_care, record_care):
    plan = plan_care()
    browser = signed_in(teodor)
    address = reverse("upkeep:plan_change", args=[plan.pk])
    seen = logbook.newest_line(plan)
    record_care(plan)

    refused = browser.post(address, TYPED | {"name": "Yearly", "seen": seen, "reason": "So."})
    seen = dict(Page(page_of(refused)).forms)[""]["seen"]
    browser.post(address, TYPED | {"name": "Yearly", "seen": seen, "due_on": "2028-09-01"})

    plan.refresh_from_db()
    assert "This was changed after you opened it." in page_of(refused)
    assert (plan.name, plan.due_on) == ("Yearly", date(2028, 9, 1))


def test_ending_asks_why_and_the_machine_is_free_of_it(signed_in, teodor, plan_care, mill):
    plan = plan_care()
    browser = signed_in(teodor)
    address = reverse("upkeep:plan_end", args=[plan.pk])

    refused = browser.post(address, {})
    browser.post(address, {"reason": "It has no plug any more."})

    plan.refresh_from_db()
    assert "Say why it need not be done any more." in page_of(refused)
    assert plan.is_ended
    assert (
        "Electrical test" not in page_of(browser.get(reverse("kits:machine", args=[mill.pk]))).partition("History")[0]
    )


# Recording


def test_a_passed_test_is_recorded_once_and_is_due_again(signed_in, teodor, plan_care):
    plan = plan_care()
    browser = signed_in(teodor)
    forms = dict(Page(page_of(browser.get(reverse("upkeep:plan", args=[plan.pk])))).forms)
    kept = {name: forms[reverse("upkeep:record", args=[plan.pk])][name] for name in ("form_key", "seen")}

    record(browser, plan, **kept)
    page = page_of(record(browser, plan, **kept, follow="") and browser.get(reverse("upkeep:plan", args=[plan.pk])))

    plan.refresh_from_db()
    assert plan.due_on == date(2028, 9, 1)
    assert CareRecord.objects.count() == 1
    assert "By Odile Marchbanks." in page
    assert "records of what was said, not certificates" in page
    assert "competent person under local rules" in page


def test_a_failed_test_sets_the_machine_aside_and_the_page_says_so(signed_in, teodor, plan_care, mill):
    plan = plan_care()
    browser = signed_in(teodor)

    record(browser, plan, outcome="failed", note="No earth.")
    page = page_of(browser.get(reverse("upkeep:plan", args=[plan.pk])))

    [fault] = Fault.objects.stopping([mill])
    assert "Heron mill is set aside" in page
    assert reverse("upkeep:fault", args=[fault.pk]) in page


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"done_on": "2027-09-02"}, "done_on"),
        ({"done_by_name": ""}, "done_by_name"),
        ({"outcome": ""}, "outcome"),
        ({"next_due_on": "2027-08-01"}, "next_due_on"),
        ({"next_due_on": "soon"}, "next_due_on"),
    ],
)
def test_a_record_refused_says_why_by_its_field_and_keeps_the_note(signed_in, teodor, plan_care, typed, field):
    answer = record(signed_in(teodor), plan_care(), note="Lead 0.1 ohm.", **typed)

    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert "Lead 0.1 ohm." in page_of(answer)
    assert not CareRecord.objects.exists()


def test_a_record_sent_after_somebody_elses_is_refused_and_keeps_what_was_typed(
    signed_in, teodor, plan_care, record_care
):
    plan = plan_care()
    seen = logbook.newest_line(plan)
    record_care(plan)

    answer = record(signed_in(teodor), plan, seen=seen, note="Lead 0.1 ohm.")

    assert "This was changed after you opened it." in page_of(answer)
    assert "Lead 0.1 ohm." in page_of(answer)
    assert CareRecord.objects.count() == 1


# Where else it shows


def test_a_booking_past_the_due_day_says_which_test_comes_first(signed_in, leilani, plan_care, book, mill):
    plan_care(due_on=date(2027, 9, 10))
    booking = book(mill, out_on=date(2027, 9, 11), back_on=date(2027, 9, 12))

    page = page_of(signed_in(leilani).get(reverse("bookings:show", args=[booking.pk])))

    assert "At risk: a safety test comes first." in page
    assert "Heron mill: “Electrical test” falls due on Fri 10 Sep 2027, before it goes out on Sat 11 Sep." in page


def test_a_booking_before_the_due_day_says_nothing(signed_in, leilani, plan_care, book, mill):
    plan_care(due_on=date(2027, 9, 11))
    booking = book(mill, out_on=date(2027, 9, 11), back_on=date(2027, 9, 12))

    assert "At risk" not in page_of(signed_in(leilani).get(reverse("bookings:show", args=[booking.pk])))


def test_the_list_of_bookings_at_risk_has_those_that_need_a_test_first(signed_in, teodor, plan_care, book, mill):
    plan = plan_care(due_on=date(2027, 9, 10))
    booking = book(mill, out_on=date(2027, 9, 11), back_on=date(2027, 9, 12))
    browser = signed_in(teodor)

    assert "1 booking is at risk" in page_of(browser.get(reverse("upkeep:workbench")))
    page = page_of(browser.get(reverse("upkeep:at_risk")))

    assert reverse("bookings:show", args=[booking.pk]) in page
    assert reverse("upkeep:plan", args=[plan.pk]) in page


def test_home_names_the_booking_when_it_is_near_and_the_test_when_it_is_overdue(
    signed_in, perpetua, plan_care, book, mill, press, today
):
    plan_care(due_on=date(2027, 9, 10))
    plan_care(machine=press, due_on=today - timedelta(days=1))
    book(mill, out_on=date(2027, 9, 11), back_on=date(2027, 9, 12))
    book(mill, out_on=date(2027, 10, 2), back_on=date(2027, 10, 3))

    page = page_of(signed_in(perpetua).get("/"))

    assert "Fennerlow, Sat 11 Sep: a safety test comes before this booking." in page
    assert "Sat 2 Oct: a safety test" not in page
    assert "1 safety test is overdue." in page


def test_a_machine_with_an_overdue_test_stands_so_on_its_page_and_in_the_season(
    signed_in, teodor, plan_care, mill, season, today
):
    plan_care(due_on=today - timedelta(days=1))
    browser = signed_in(teodor)

    assert "safety test overdue" in page_of(browser.get(reverse("kits:machine", args=[mill.pk])))
    assert "set aside" in page_of(browser.get(reverse("season:month")))


def test_a_booking_in_the_season_is_at_risk_from_the_day_after_the_test_is_due(
    signed_in, teodor, plan_care, book, mill
):
    plan_care(due_on=date(2027, 9, 10))
    book(mill, out_on=date(2027, 9, 10), back_on=date(2027, 9, 11))
    browser = signed_in(teodor)

    before = page_of(browser.get(reverse("season:month"), {"month": "2027-09"}))
    book(mill, out_on=date(2027, 9, 18), back_on=date(2027, 9, 19))
    after = page_of(browser.get(reverse("season:month"), {"month": "2027-09"}))

    assert "at risk" not in before
    assert "at risk" in after


def test_the_pickup_page_gives_the_overdue_test_instead_of_the_sheet(signed_in, sunniva, agreed_booking, plan_care):
    plan = plan_care(due_on=agreed_booking.out_on - timedelta(days=1))

    page = page_of(signed_in(sunniva).get(reverse("checks:pickup", args=[agreed_booking.pk])))

    assert "Set aside, so it does not go out. Heron mill: “Electrical test” was due on" in page
    assert reverse("upkeep:plan", args=[plan.pk]) in page
