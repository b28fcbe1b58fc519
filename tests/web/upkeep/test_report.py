"""Reporting a fault: any member, from any machine, and nothing typed is lost."""

import uuid

import pytest
from django.urls import reverse

from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import Fault
from kitshare.web.upkeep.facts import open_faults_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(mill) -> str:
    return reverse("upkeep:report", args=[mill.pk])


def typed(**changes: object) -> dict[str, object]:
    return {"note": "It hums.", "severity": "stops_use", "form_key": str(uuid.uuid4())} | changes


def test_a_stranger_is_sent_to_sign_in(client, address):
    assert client.get(address)["Location"].startswith(reverse("people:sign_in"))


def test_any_member_reports_a_fault_and_lands_on_its_page(signed_in, sunniva, address, drive_pin):
    answer = signed_in(sunniva).post(address, typed(part=drive_pin.pk), follow=True)

    fault = Fault.objects.get()
    assert (fault.part, fault.reported_by, fault.severity) == (drive_pin, sunniva, Severity.STOPS_USE)
    assert answer.redirect_chain[-1][0] == reverse("upkeep:fault", args=[fault.pk])
    assert "The maintenance volunteers are told." in answer.content.decode()


def test_nothing_is_chosen_beforehand_unless_the_address_says_so(signed_in, sunniva, address, drive_pin):
    browser = signed_in(sunniva)
    assert '" checked' not in browser.get(address).content.decode()

    page = browser.get(address, {"severity": "stops_use", "part": drive_pin.pk}).content.decode()

    assert "Set Heron mill aside" in page
    assert f'<option value="{drive_pin.pk}" selected>' in page
    assert '" checked' in page


def test_a_report_without_words_keeps_what_was_chosen(signed_in, sunniva, address, drive_pin):
    answer = signed_in(sunniva).post(address, typed(note=" ", part=drive_pin.pk))

    page = answer.content.decode()
    assert page.count("Say what is wrong: somebody has to find it again.") == 2
    assert f'<option value="{drive_pin.pk}" selected>' in page
    assert not Fault.objects.exists()


@pytest.mark.parametrize(
    "bent",
    [
        {"severity": ""},
        {"severity": "terrible"},
        {"part": "x"},
        {"part": "9" * 30},
        {"form_key": "no key"},
        {"note": "a\x00b"},
        {"note": "a" * 5000},
    ],
)
def test_bent_input_is_refused_and_the_words_stay(signed_in, sunniva, address, bent):
    answer = signed_in(sunniva).post(address, typed(**bent))

    assert answer.status_code == 200
    assert "There is a problem" in answer.content.decode()
    assert not Fault.objects.exists()


def test_a_part_of_another_machine_is_no_choice(signed_in, sunniva, address, cloths):
    answer = signed_in(sunniva).post(address, typed(part=cloths.pk))

    assert answer.status_code == 200
    assert not Fault.objects.exists()


def test_a_double_submit_is_one_fault(signed_in, sunniva, address):
    browser = signed_in(sunniva)
    same = typed()

    answers = [browser.post(address, same) for _tap in range(2)]

    assert answers[0]["Location"] == answers[1]["Location"]
    assert Fault.objects.count() == 1


@pytest.mark.parametrize("query", ["severity=nonsense", "part=x", f"part={'9' * 40}", "part=%00"])
def test_a_bent_address_is_answered_all_the_same(signed_in, sunniva, address, query):
    assert signed_in(sunniva).get(f"{address}?{query}").status_code == 200


def test_known_faults_stand_beside_the_form(signed_in, sunniva, address, report):
    report(note="The clip is worn.")

    assert "The clip is worn." in signed_in(sunniva).get(address).content.decode()


def test_every_machine_in_use_can_be_chosen(signed_in, sunniva, mill, press, otter_mill):
    page = signed_in(sunniva).get(reverse("upkeep:report_where")).content.decode()

    for machine in (mill, press, otter_mill):
        assert reverse("upkeep:report", args=[machine.pk]) in page


def test_with_no_machines_the_page_says_what_to_do(signed_in, sunniva):
    assert "There is no machine yet." in signed_in(sunniva).get(reverse("upkeep:report_where")).content.decode()


def test_open_faults_for_other_pages_come_worst_first_in_one_query(
    report, mill, press, drive_pin, django_assert_num_queries
):
    report(severity=Severity.LOOKS_ONLY, note="Scuffed.")
    report(part=drive_pin, note="Bent.")
    report(machine=press, note="Another machine.")

    with django_assert_num_queries(1):
        lines = open_faults_of([mill])

    assert [(line.where, line.note, line.tone) for line in lines] == [
        ("Heron mill, Drive pin", "Bent.", "stop"),
        ("Heron mill", "Scuffed.", "quiet"),
    ]


def test_the_machines_own_page_leads_to_the_report_and_to_its_faults(signed_in, sunniva, address, mill, report):
    fault = report()

    page = signed_in(sunniva).get(reverse("kits:machine", args=[mill.pk])).content.decode()

    assert f'href="{address}"' in page
    assert f'href="{address}?severity=stops_use"' in page
    assert reverse("upkeep:fault", args=[fault.pk]) in page
