"""Recording a check of a probe, and what the machine's page says of it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from kitshare.kits.models import Part
from kitshare.upkeep.models import Fault
from kitshare.upkeep.probe_models import ProbeCheck
from tests.web.page import Page


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def typed(probe):
    return {
        "part": str(probe.pk),
        "ice_reading_c": "-3,0",
        "boiling_reading_c": "96.9",
        "altitude_m": "40",
        "pressure_hpa": "",
        "checked_on": "2027-09-01",
        "note": "",
    }


def test_a_check_is_recorded_and_the_machine_says_how_its_probe_reads(signed_in, teodor, pasteuriser, typed):
    client = signed_in(teodor)
    address = f"/workbench/probes/{pasteuriser.pk}/"
    assert "None of its probes was ever checked" in words_of(client.get(address))

    answer = client.post(address, typed)

    check = ProbeCheck.objects.get()
    assert (check.ice_reading_c, check.altitude_m) == (Decimal("-3.0"), 40)
    page = client.get(answer.url)
    assert answer.url == f"/kits/machines/{pasteuriser.pk}/"
    assert "reads 3.0 °C low" in words_of(page)
    assert 'word-care">reads 3.0' in words_of(page)
    assert Page(page.content.decode()).wrong == []


def test_the_form_begins_with_the_altitude_of_the_scheme(signed_in, teodor, pasteuriser, probe, scheme):
    scheme.altitude_m = 310
    scheme.save()

    page = signed_in(teodor).get(f"/workbench/probes/{pasteuriser.pk}/")

    assert 'value="310"' in words_of(page)
    assert Page(page.content.decode()).wrong == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"ice_reading_c": "", "boiling_reading_c": ""}, "ice_reading_c"),
        ({"ice_reading_c": "17"}, "ice_reading_c"),
        ({"boiling_reading_c": "cold"}, "boiling_reading_c"),
        ({"altitude_m": "9000"}, "altitude_m"),
        ({"checked_on": "2027-09-02"}, "checked_on"),
    ],
)
def test_a_refused_check_says_so_by_the_field_and_keeps_what_was_typed(
    signed_in, teodor, pasteuriser, typed, changes, field
):
    answer = signed_in(teodor).post(f"/workbench/probes/{pasteuriser.pk}/", typed | {"note": "In the shed."} | changes)

    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert "In the shed." in words_of(answer)
    assert not ProbeCheck.objects.exists()


def test_a_machine_without_parts_says_what_comes_first(signed_in, teodor, pasteuriser):
    assert "List its probe first" in words_of(signed_in(teodor).get(f"/workbench/probes/{pasteuriser.pk}/"))


def test_checks_are_for_those_who_mend_and_read_by_all(signed_in, sunniva, pasteuriser, typed, check_probe, today):
    check_probe(checked_on=today - timedelta(days=400))
    client = signed_in(sunniva)

    assert client.post(f"/workbench/probes/{pasteuriser.pk}/", typed).status_code == 403
    page = words_of(client.get(f"/kits/machines/{pasteuriser.pk}/"))
    assert "That is more than a year ago." in page
    assert "Check a probe" not in page


def test_a_planned_test_of_the_probe_is_pointed_to(signed_in, teodor, pasteuriser, probe, plan_care):
    plan = plan_care(machine=pasteuriser, kind="probe", name="Probe in ice")

    assert f"/workbench/plans/{plan.pk}/" in words_of(signed_in(teodor).get(f"/workbench/probes/{pasteuriser.pk}/"))


def test_other_machines_have_no_probes(signed_in, teodor, mill):
    Part.objects.create(machine=mill, name="Pin")

    assert 'id="probes"' not in words_of(signed_in(teodor).get(f"/kits/machines/{mill.pk}/"))


def test_a_probe_far_off_is_asked_about_and_then_sets_the_pasteuriser_aside(signed_in, teodor, pasteuriser, typed):
    client, address = signed_in(teodor), f"/workbench/probes/{pasteuriser.pk}/"
    far_off = typed | {"ice_reading_c": "40", "boiling_reading_c": ""}

    asked = client.post(address, far_off)
    answer = client.post(address, far_off | {"deed": "set_aside"})

    assert asked.status_code == 422
    assert "It read so: set Heron pasteuriser aside" in words_of(asked)
    fault = Fault.objects.stopping([pasteuriser]).get()
    assert answer.url == f"/workbench/{fault.pk}/"
