"""The promises of faults, each tried by going past the actions."""

import pytest
from django.db import IntegrityError

from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault, FaultDeed, FaultNote, FaultStage
from kitshare.upkeep.photo_models import FaultPhoto

pytestmark = pytest.mark.django_db


@pytest.fixture
def fault(mill, sunniva, now) -> Fault:
    return upkeep.report_fault(
        machine=mill, part=None, note="It hums.", severity=Severity.STOPS_USE, by=sunniva, at=now
    )


def mended_facts(teodor, now) -> dict[str, object]:
    return {"mended_by": teodor, "mended_at": now}


def released_facts(teodor, now) -> dict[str, object]:
    return {
        "stage": FaultStage.RELEASED,
        "retest_note": "Ran.",
        "released_by": teodor,
        "released_at": now,
        **mended_facts(teodor, now),
    }


def test_a_released_fault_with_all_its_facts_is_kept(fault, teodor, now):
    Fault.objects.filter(pk=fault.pk).update(**released_facts(teodor, now))

    assert not Fault.objects.open().exists()


@pytest.mark.parametrize(
    ("lost", "promise"),
    [
        ({"released_by": None}, "released_fault_says_who_and_when"),
        ({"released_at": None}, "released_fault_says_who_and_when"),
        ({"retest_note": ""}, "released_fault_was_retested"),
        ({"mended_by": None}, "mended_fault_says_who_and_when"),
        ({"stage": FaultStage.MENDED, "mended_at": None}, "mended_fault_says_who_and_when"),
    ],
)
def test_a_fault_does_not_move_on_without_saying_who_when_and_how(fault, teodor, now, lost, promise):
    with pytest.raises(IntegrityError, match=promise):
        Fault.objects.filter(pk=fault.pk).update(**(released_facts(teodor, now) | lost))


@pytest.mark.parametrize(
    ("facts", "promise"),
    [
        ({"waits_for": "Belt"}, "fault_waits_for_a_part_until_a_day"),
        ({"expected_on": "2027-09-10"}, "fault_waits_for_a_part_until_a_day"),
        ({"stage": FaultStage.GIVEN_UP}, "given_up_fault_says_who_when_and_why"),
    ],
)
def test_a_fault_neither_waits_nor_is_given_up_without_saying_for_what_and_why(fault, facts, promise):
    with pytest.raises(IntegrityError, match=promise):
        Fault.objects.filter(pk=fault.pk).update(**facts)


def test_a_photo_is_kept_once_a_fault(fault, sunniva, now):
    """photo_kept_once_a_fault; SQLite names the columns instead."""
    facts = {"fault": fault, "when": "before", "digest": "a" * 64, "by": sunniva, "at": now}
    FaultPhoto.objects.create(image="one.jpg", **facts)

    with pytest.raises(IntegrityError, match=r"photo_kept_once_a_fault|fault_id.*digest"):
        FaultPhoto.objects.create(image="two.jpg", **facts)


def test_one_revision_is_one_deed(fault, teodor, perpetua, now):
    FaultNote.objects.create(fault=fault, revision=2, by=teodor, at=now, text="First.")

    with pytest.raises(IntegrityError):
        FaultNote.objects.create(fault=fault, revision=2, by=perpetua, at=now, text="Second.")


def test_a_note_says_something_unless_the_deed_speaks_for_itself(fault, teodor, now):
    FaultNote.objects.create(fault=fault, revision=2, deed=FaultDeed.TAKEN, by=teodor, at=now)

    with pytest.raises(IntegrityError, match="fault_note_says_something"):
        FaultNote.objects.create(fault=fault, revision=3, deed=FaultDeed.MENDED, by=teodor, at=now)


def test_a_report_has_a_key_of_its_own(fault, mill, sunniva, now):
    with pytest.raises(IntegrityError):
        Fault.objects.create(
            key=fault.key, machine=mill, note="Again.", severity="looks_only", reported_by=sunniva, reported_at=now
        )


def test_worst_first_then_oldest(fault, mill, sunniva, now):
    facts = {"machine": mill, "part": None, "by": sunniva, "at": now}
    looks = upkeep.report_fault(note="Scuffed.", severity=Severity.LOOKS_ONLY, **facts)
    care = upkeep.report_fault(note="Stiff.", severity=Severity.USE_WITH_CARE, **facts)
    stops = upkeep.report_fault(note="Cracked.", severity=Severity.STOPS_USE, **facts)

    assert list(Fault.objects.open().worst_first()) == [fault, stops, care, looks]
