"""The page that takes safety tests from a file: look over first, then all or none."""

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from kitshare.people.models import Scheme
from kitshare.upkeep.care_models import CareRecord
from tests.web.page import Page

pytestmark = pytest.mark.django_db

FIRST = "machine,test,day,tested by,outcome,holds at half,trip ms,trip at five ms"
ROW = "Heron mill,Trip switch,2027-09-01,Odile Marchbanks,passed,yes,>300,18"


def page_of(answer) -> str:
    return answer.content.decode()


@pytest.fixture
def browser(signed_in, teodor, scheme):
    Scheme.objects.update(electrical_rules="uk")
    return signed_in(teodor)


def look(browser, text, **more):
    return browser.post(reverse("upkeep:tests_file"), {"text": text} | more)


def test_a_file_is_looked_over_before_anything_is_recorded(browser, plan_care):
    plan_care(kind="trip_switch", name="Trip switch")
    file = SimpleUploadedFile("tests.csv", f"{FIRST}\r\n{ROW}\r\n".encode("utf-16"))

    page = page_of(browser.post(reverse("upkeep:tests_file"), {"file": file}))

    assert Page(page).wrong == []
    assert "Record 1 test<" in page
    assert "&gt; 300 ms, at most 200 ms: outside" in page
    assert not CareRecord.objects.exists()


def test_what_was_looked_over_is_recorded_and_a_failed_trip_switch_puts_three_bookings_at_risk(
    browser, plan_care, mill, book
):
    plan_care(kind="trip_switch", name="Trip switch")
    for day in (4, 11, 18):
        book(mill, out_on=date(2027, 9, day), back_on=date(2027, 9, day + 1))

    answer = look(browser, f"{FIRST}\n{ROW}", deed="record")

    assert answer["Location"] == reverse("upkeep:due")
    assert "1 test is recorded." in page_of(browser.get(answer["Location"]))
    assert not CareRecord.objects.get().passed
    assert "3 bookings are at risk" in page_of(browser.get(reverse("upkeep:workbench")))
    assert page_of(browser.get(reverse("upkeep:at_risk"))).count("Trips at the rated current") == 3


def test_a_line_that_is_not_understood_is_named_and_what_was_pasted_stays(browser, plan_care):
    plan_care(kind="trip_switch", name="Trip switch")

    answer = look(browser, f"{FIRST}\n{ROW.replace('18', '18 s')}", deed="record")

    page = page_of(answer)
    assert answer.status_code == 422
    assert "trip at five ms: “s” is not the unit here" in page
    assert "18 s" in page.partition("<textarea")[2]
    assert not CareRecord.objects.exists()


def test_the_same_file_again_is_known(browser, plan_care):
    plan_care(kind="trip_switch", name="Trip switch")
    look(browser, f"{FIRST}\n{ROW}", deed="record")

    page = page_of(look(browser, f"{FIRST}\n{ROW}"))

    assert "All of these are recorded already." in page
    assert 'value="record"' not in page


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "Choose the file, or paste what is in it."), ("speed\n1", "No heading is called “speed” here.")],
)
def test_what_is_no_such_file_is_refused(browser, text, words):
    answer = look(browser, text)

    assert answer.status_code == 422
    assert words in page_of(answer)


def test_the_file_to_fill_in_names_the_tests_in_force_and_comes_back_empty(browser, plan_care):
    plan_care(kind="trip_switch", name="=Trip switch")
    plan_care(kind="service", name="Blades")
    plan_care(kind="probe", name="Probe")

    text = browser.get(reverse("upkeep:tests_to_fill")).content.decode("utf-8-sig")

    assert text.splitlines()[0].startswith("machine,test,day,tested by,outcome,")
    assert [line.split(",")[:2] for line in text.splitlines()[1:]] == [["Heron mill", "'=Trip switch"]]
    assert "There is no test under the headings." in page_of(look(browser, text))


def test_a_borrower_brings_no_file(signed_in, sunniva):
    browser = signed_in(sunniva)

    assert browser.get(reverse("upkeep:tests_file")).status_code == 403
    assert browser.get(reverse("upkeep:tests_to_fill")).status_code == 403


@pytest.mark.parametrize("number", [1, 12])
def test_looking_over_costs_the_same_however_many_tests(browser, plan_care, number, django_assert_num_queries):
    for place in range(number):
        plan_care(kind="trip_switch", name=f"Trip switch {place}")
    rows = [ROW.replace("Trip switch", f"Trip switch {place}") for place in range(number)]
    look(browser, "")

    with django_assert_num_queries(6):
        look(browser, "\n".join([FIRST, *rows]))
