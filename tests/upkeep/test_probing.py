"""Recording what a probe read in crushed ice and in boiling water."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.kits.models import Part
from kitshare.logbook.models import Entry
from kitshare.upkeep import probing
from kitshare.upkeep.care_refusals import DayNotSensible, NotDoneYet, NothingWritten, NotTheirs
from kitshare.upkeep.models import Fault
from kitshare.upkeep.probe_models import ProbeCheck
from kitshare.upkeep.probing import PlaceNotSensible, ProbeOff


def test_a_check_is_kept_with_its_words_in_the_logbook(check_probe, probe, pasteuriser):
    made = check_probe(note="New battery.")

    assert ProbeCheck.objects.get() == made
    assert probing.off_in_words(made) == "reads 3.0 °C low"
    line = Entry.objects.about(pasteuriser).get()
    assert line.text == (
        "Checked Probe thermometer: -3.0 °C in crushed ice, 97.0 °C in water that boils at 100.0 °C. New battery."
    )


def test_boiling_water_is_compared_with_its_own_boiling_point(check_probe):
    """At 1,000 m water boils at 96.65 C (standard atmosphere and IAPWS-IF97): a perfect probe reads that."""
    at_height = check_probe(ice_reading_c=None, boiling_reading_c=Decimal("96.7"), altitude_m=1000)
    by_barometer = check_probe(
        ice_reading_c=None, boiling_reading_c=Decimal("98.8"), altitude_m=1000, pressure_hpa=Decimal(970)
    )

    assert probing.off_in_words(at_height) == "reads true"
    assert probing.off_in_words(by_barometer) == "reads true"  # 970 hPa: 98.76 C


def test_a_form_sent_twice_is_one_check(check_probe):
    key = uuid.uuid4()

    assert check_probe(form_key=key) == check_probe(form_key=key)
    assert check_probe(form_key=key, note="Another") != check_probe(form_key=key)


def test_the_check_in_force_is_the_last_one_up_to_the_day_of_use(check_probe, probe, today, now):
    old = check_probe(checked_on=today - timedelta(days=30))
    newer = check_probe(checked_on=today - timedelta(days=2), ice_reading_c=Decimal("0.1"))

    assert ProbeCheck.objects.in_force(part=probe, on=today) == newer
    assert ProbeCheck.objects.in_force(part=probe, on=today - timedelta(days=3)) == old
    assert ProbeCheck.objects.in_force(part=probe, on=today - timedelta(days=31)) is None
    assert ProbeCheck.objects.last_of([probe]) == [newer]
    assert newer.as_rule(on=today).age_days == 2


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"ice_reading_c": None, "boiling_reading_c": None}, NothingWritten, "ice_reading_c"),
        ({"ice_reading_c": Decimal("17.2")}, ProbeOff, "ice_reading_c"),
        ({"boiling_reading_c": Decimal("80")}, ProbeOff, "boiling_reading_c"),
        ({"boiling_reading_c": Decimal("212")}, PlaceNotSensible, "boiling_reading_c"),
        ({"ice_reading_c": Decimal("NaN")}, PlaceNotSensible, "ice_reading_c"),
        ({"altitude_m": 9000}, PlaceNotSensible, "altitude_m"),
        ({"pressure_hpa": Decimal(90)}, PlaceNotSensible, "pressure_hpa"),
        ({"checked_on": date(2027, 9, 2)}, NotDoneYet, "checked_on"),
        ({"checked_on": date(1927, 9, 2)}, DayNotSensible, "checked_on"),
    ],
)
def test_what_makes_no_sense_is_refused_by_its_field(check_probe, changes, refusal, field):
    with pytest.raises(refusal) as refused:
        check_probe(**changes)

    assert refused.value.field == field
    assert not ProbeCheck.objects.exists()


def test_a_probe_of_no_use_is_named_with_how_far_off_it_is(check_probe):
    with pytest.raises(ProbeOff, match=r"17\.2 degrees off"):
        check_probe(ice_reading_c=Decimal("17.2"))


def test_checks_are_for_those_who_mend(check_probe, sunniva):
    with pytest.raises(NotTheirs):
        check_probe(by=sunniva)


def test_the_database_wants_a_reading(probe, teodor, now, today):
    with pytest.raises(IntegrityError, match="probe_check_has_a_reading"), transaction.atomic():
        ProbeCheck(part=probe, altitude_m=0, checked_on=today, by=teodor, at=now).save()


def test_probes_are_offered_before_leads_and_everything_where_nothing_is_called_so(probe, pasteuriser):
    lead = Part.objects.create(machine=pasteuriser, name="Mains lead")
    lid = Part.objects.create(machine=pasteuriser, name="Lid")

    assert probing.likely_probes([lead, probe, lid], set()) == [probe]
    assert probing.likely_probes([lead, probe, lid], {lid.pk}) == [probe, lid]
    assert probing.likely_probes([lead, lid], set()) == [lead, lid]


def test_a_probe_of_no_use_sets_its_machine_aside_in_one_deed_and_is_no_check_to_go_by(
    check_probe, probe, pasteuriser, teodor, now, today
):
    """More than 15 C off at either point (our choice); 15.0 is corrected yet."""
    read = {"part": probe, "ice_reading_c": Decimal("15.1"), "boiling_reading_c": None, "altitude_m": 0}
    read |= {"pressure_hpa": None, "checked_on": today, "note": "Dropped."}
    signed = {"by": teodor, "at": now, "today": today, "form_key": uuid.uuid4()}

    first, second = (probing.set_aside_by_probe(**read, **signed) for _ in range(2))

    assert first == second
    assert (first.part, first.stops_use) == (probe, True)
    assert first.note.endswith("On Wed 1 Sep 2027 it read 15.1 °C in crushed ice. Dropped.")
    assert Fault.objects.stopping([pasteuriser]).exists()
    assert not ProbeCheck.objects.exists()
    with pytest.raises(probing.ProbeInUse):
        probing.set_aside_by_probe(**(read | {"ice_reading_c": Decimal(15)}), **signed)
