"""The pages of safety tests with readings: the form, what is refused with what was typed, and the record."""

from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.people.models import Scheme
from kitshare.upkeep.care_models import CareRecord
from kitshare.upkeep.models import Fault
from tests.web.page import Page

pytestmark = pytest.mark.django_db

TYPED = {
    "done_on": "2027-09-01",
    "done_by_name": "Odile Marchbanks",
    "outcome": "passed",
    "protection": "I",
    "lead_m": "10",
    "lead_mm2": "1.5",
    "visual": "yes",
    "earth": "0,19 Ω",
    "insulation": ">200",
    "leakage": "0.4",
}


def page_of(answer) -> str:
    return answer.content.decode()


def send(browser, plan, **typed):
    return browser.post(reverse("upkeep:test_new", args=[plan.pk]), TYPED | typed)


@pytest.fixture
def british(scheme):
    Scheme.objects.update(electrical_rules="uk")


def test_a_test_is_recorded_with_comma_decimals_and_shown_with_its_limits(signed_in, teodor, plan_care, british):
    browser, plan = signed_in(teodor), plan_care()

    answer = send(browser, plan)

    record = CareRecord.objects.get()
    assert answer["Location"] == reverse("upkeep:test", args=[record.pk])
    page = page_of(browser.get(answer["Location"]))
    assert Page(page).wrong == []
    for words in (
        "0.19 Ω",
        "at most 0.233 Ω",
        "&gt; 200 MΩ",
        "at least 1 MΩ",
        "IET code of practice",
        "Odile Marchbanks",
    ):
        assert words in page
    assert "A record, not a certificate" in page
    assert "Due next" in page_of(browser.get(reverse("upkeep:plan", args=[plan.pk])))


def test_a_reading_outside_its_limit_is_recorded_as_failed_though_passed_was_chosen(
    signed_in, teodor, plan_care, british, mill
):
    browser = signed_in(teodor)

    answer = send(browser, plan_care(), earth="0.24")

    page = page_of(browser.get(answer["Location"]))
    assert "Recorded as failed, whatever was chosen: earth continuity 0.24 Ω, at most 0.233 Ω" in page
    assert ">outside<" in page
    assert Fault.objects.stopping([mill]).exists()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"earth": "190 mΩ"}, "“mΩ” is not the unit here. Earth continuity is written in Ω"),
        ({"insulation": "200 Ω"}, "“Ω” is not the unit here. Insulation resistance at 500 V is written in MΩ"),
        ({"leakage": "lots"}, "Write one number, such as 0.4."),
        ({"insulation": "1,200"}, "Write thousands without a comma"),
        ({"leakage": "1001"}, "No instrument shows that. Give a number from 0 to 1000 mA."),
        ({"insulation": ">0.5"}, "The limit is 1 MΩ, so this does not tell whether it is kept."),
        ({"protection": "II"}, "Only a machine of class I has an earth to measure."),
        ({"lead_m": "", "lead_mm2": ""}, "The limit depends on the lead"),
        ({"lead_mm2": ""}, "Choose the cross-section too"),
        ({"lead_m": ""}, "Give the metres too"),
        ({"lead_m": "201"}, "less than or equal to 200"),
        ({"heating_kw": "61"}, "less than or equal to 60"),
        ({"done_on": "2027-09-02"}, "is still to come"),
        ({"done_by_name": " "}, "Say who did it, by name."),
        ({"outcome": ""}, "Choose whether it passed."),
        ({"visual": "", "earth": "", "insulation": "", "leakage": ""}, "Write at least one reading"),
    ],
)
def test_what_is_refused_says_why_and_keeps_what_was_typed(signed_in, teodor, plan_care, british, typed, words):
    answer = send(signed_in(teodor), plan_care(), **({"note": "Typed once."} | typed))

    page = page_of(answer)
    assert answer.status_code == 422
    assert words in page
    assert "Typed once." in page
    assert Page(page).fields["instrument"] == ""
    assert Page(page).fields["earth"] == (TYPED | typed)["earth"]
    assert not CareRecord.objects.exists()


def test_what_the_machine_is_like_is_filled_in_from_the_last_test(signed_in, teodor, plan_care, british):
    browser, plan = signed_in(teodor), plan_care()
    send(browser, plan, lead_m="12.5", heating_kw="3", instrument="Tester 4")

    fields = Page(page_of(browser.get(reverse("upkeep:test_new", args=[plan.pk])))).fields

    assert (fields["lead_m"], fields["heating_kw"], fields["instrument"]) == ("12.5", "3", "Tester 4")


@pytest.mark.parametrize(
    ("kind", "asked", "left_out"),
    [
        ("trip_switch", {"trip_half", "trip_rated", "trip_five", "portable_switch"}, {"earth", "protection", "guard"}),
        ("guard", {"guard", "interlock", "visual"}, {"earth", "protection", "portable_switch"}),
        ("visual", {"visual", "guard"}, {"earth", "protection", "portable_switch"}),
    ],
)
def test_a_form_asks_what_belongs_to_its_test(signed_in, teodor, plan_care, kind, asked, left_out):
    page = page_of(signed_in(teodor).get(reverse("upkeep:test_new", args=[plan_care(kind=kind).pk])))

    assert asked <= set(Page(page).fields)
    assert not left_out & set(Page(page).fields)
    assert Page(page).wrong == []


def test_a_trip_switch_that_never_trips_sets_the_machine_aside(signed_in, teodor, plan_care, british):
    browser = signed_in(teodor)

    send(
        browser, plan_care(kind="trip_switch"), trip_half="yes", trip_rated=">300", trip_five="18", portable_switch="on"
    )

    assert "Trips at the rated current (30 mA) &gt; 300 ms, at most 200 ms." in page_of(
        browser.get(reverse("upkeep:fault", args=[Fault.objects.get().pk]))
    )


@pytest.mark.parametrize("kind", ["service", "probe"])
def test_without_readings_there_is_no_such_page(signed_in, teodor, plan_care, kind):
    browser, plan = signed_in(teodor), plan_care(kind=kind)

    assert browser.get(reverse("upkeep:test_new", args=[plan.pk])).status_code == 404
    assert "Record it with readings" not in page_of(browser.get(reverse("upkeep:plan", args=[plan.pk])))


def test_a_record_without_readings_has_no_page_of_its_own(signed_in, teodor, plan_care, record_care):
    record = record_care(plan_care())

    assert signed_in(teodor).get(reverse("upkeep:test", args=[record.pk])).status_code == 404


def test_a_borrower_reads_a_test_and_records_none(signed_in, teodor, sunniva, plan_care):
    plan = plan_care()
    read = send(signed_in(teodor), plan)["Location"]
    browser = signed_in(sunniva)

    assert browser.get(read).status_code == 200
    assert send(browser, plan).status_code == 403
    assert browser.get(reverse("upkeep:rules")).status_code == 403


@pytest.mark.parametrize("number", [1, 4])
def test_a_record_costs_the_same_however_much_was_read(signed_in, teodor, plan_care, number, django_assert_num_queries):
    names = ["visual", "earth", "insulation", "leakage"]
    browser = signed_in(teodor)
    place = send(browser, plan_care(), **dict.fromkeys(names[number:], ""))["Location"]
    browser.get(place)

    with django_assert_num_queries(5):
        browser.get(place)


# Whose limits


def test_the_coordinator_chooses_a_country_and_the_form_names_it(signed_in, perpetua, plan_care):
    browser, address = signed_in(perpetua), reverse("upkeep:rules")
    plan = plan_care()
    before = page_of(browser.get(reverse("upkeep:test_new", args=[plan.pk])))

    seen = Page(page_of(browser.get(address))).fields["seen"]
    answer = browser.post(address, {"rules": "de", "seen": seen}, follow=True)

    assert "compared with nothing" in before
    assert "compared with the limits of: Germany" in page_of(answer)
    assert Scheme.objects.get().electrical_rules == "de"
    assert "limits of: Germany" in page_of(browser.get(reverse("upkeep:test_new", args=[plan.pk])))


def test_a_choice_made_meanwhile_is_said(signed_in, perpetua):
    browser, address = signed_in(perpetua), reverse("upkeep:rules")
    seen = Page(page_of(browser.get(address))).fields["seen"]
    browser.post(address, {"rules": "uk", "seen": seen})

    answer = browser.post(address, {"rules": "de", "seen": seen})

    assert answer.status_code == 422
    assert "This was changed after you opened it." in page_of(answer)
    assert Scheme.objects.get().electrical_rules == "uk"


def test_without_a_country_a_figure_is_kept_and_said_to_be_compared_with_nothing(signed_in, teodor, plan_care):
    browser = signed_in(teodor)

    page = page_of(browser.get(send(browser, plan_care(), earth="9")["Location"]))

    assert "compared with nothing" in page
    assert CareRecord.objects.get().sheet.readings.get(kind="earth").value == Decimal(9)


def test_a_note_is_as_long_as_its_field_says_and_a_lead_has_its_two_decimals(signed_in, teodor, plan_care, british):
    client, plan = signed_in(teodor), plan_care()

    too_long = send(client, plan, note="n" * 1201, lead_m="2,55")
    page = Page(page_of(too_long))
    answer = send(client, plan, note="n" * 1200, lead_m="2,55", earth="0,13")

    assert too_long.status_code == 422
    assert page.fields["lead_m"] == "2,55"
    assert 'maxlength="1200"' in page_of(too_long)
    assert answer.status_code == 302
    assert "2.55 m" in page_of(client.get(answer.url)).replace("\xa0", " ")
