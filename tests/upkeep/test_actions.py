"""Deeds about a fault: what each changes, records and tells; and what is refused."""

import uuid
from datetime import timedelta

import pytest

from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import eligibility, notices
from kitshare.upkeep.models import Fault, FaultNote, FaultStage
from kitshare.upkeep.refusals import (
    AlreadyReleased,
    AlreadyTaken,
    AsBadAsBefore,
    FaultChangedMeanwhile,
    NothingWritten,
    NotInHand,
    NotMended,
    NotTheirs,
    PartOfAnotherMachine,
    StopsUntilReleased,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def report(mill, sunniva, now):
    """Reports a fault of the mill, as Sunniva, unless told otherwise."""

    def report_it(**changes: object) -> Fault:
        facts = {"machine": mill, "part": None, "note": "It hums and does not turn.", "severity": Severity.STOPS_USE}
        return upkeep.report_fault(**(facts | {"by": sunniva, "at": now} | changes))

    return report_it


@pytest.fixture
def mended(report, teodor, now):
    """A fault that was mended and waits for its retest."""
    return upkeep.mend_fault(fault=report(), note="New capacitor.", by=teodor, at=now, revision=1)


def told(event: str) -> set[str]:
    return set(Message.objects.filter(key__startswith=f"fault-{event}").values_list("to_name", flat=True))


def test_a_fault_that_stops_use_sets_the_machine_aside(report, mill, press, sunniva, now):
    fault = report()

    assert (fault.stage, fault.reported_by, fault.reported_at) == (FaultStage.REPORTED, sunniva, now)
    assert list(Fault.objects.stopping([mill])) == [fault]
    assert not Fault.objects.stopping([press]).exists()


def test_every_active_maintenance_volunteer_is_told_of_a_fault(report, teodor, perpetua, scheme):
    Member.objects.create(name="Rukmini Fallowdene", maintains=True)
    Member.objects.create(name="Gone Away", maintains=True, is_active=False)

    fault = report(severity=Severity.LOOKS_ONLY)

    assert told("reported") == {"Teodor Haskerby", "Rukmini Fallowdene"}
    assert Message.objects.filter(key=f"fault-reported:{fault.pk}:{teodor.pk}").exists()


def test_the_coordinator_is_told_too_when_the_machine_is_set_aside(report, teodor, perpetua):
    report(severity=Severity.STOPS_USE)

    assert told("reported") == {"Teodor Haskerby", "Perpetua Quillstone"}
    assert "Heron mill is set aside" in Message.objects.filter(to_name="Perpetua Quillstone").get().body


def test_nobody_is_told_what_they_did_themselves(report, teodor):
    report(by=teodor)

    assert told("reported") == set()


def test_a_report_is_written_in_the_logbook_of_part_machine_and_kit(report, drive_pin, mill, heron):
    fault = report(part=drive_pin, note="The pin is bent.")

    for thing in (fault, drive_pin, mill, heron):
        (entry,) = Entry.objects.about(thing)
        assert entry.text == "Heron mill, Drive pin: fault reported, stops use. The pin is bent."


def test_a_fault_without_words_is_refused(report):
    with pytest.raises(NothingWritten) as refusal:
        report(note="  \n ")

    assert refusal.value.field == "note"
    assert not Fault.objects.exists()


def test_a_part_of_another_machine_is_refused(report, cloths):
    with pytest.raises(PartOfAnotherMachine):
        report(part=cloths)


def test_a_report_sent_twice_is_one_fault(report, teodor):
    form_key = uuid.uuid4()

    first, second = report(form_key=form_key), report(form_key=form_key)

    assert first == second
    assert Fault.objects.count() == Entry.objects.count() == Message.objects.count() == 1


def test_another_fault_from_the_same_form_is_another_fault(report):
    form_key = uuid.uuid4()

    report(form_key=form_key)
    report(form_key=form_key, note="And the lead is cut.")

    assert Fault.objects.count() == 2


def test_when_telling_fails_nothing_was_reported(report, monkeypatch):
    def fall_over(**_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(notices, "reported", fall_over)

    with pytest.raises(RuntimeError):
        report()

    assert not Fault.objects.exists()
    assert not Entry.objects.exists()


def test_when_telling_fails_nothing_was_released(mended, teodor, now, monkeypatch):
    def fall_over(**_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(notices, "released", fall_over)

    with pytest.raises(RuntimeError):
        upkeep.release_fault(fault=mended, retest_note="Ran ten minutes.", by=teodor, at=now, revision=2)

    mended.refresh_from_db()
    assert (mended.stage, mended.revision) == (FaultStage.MENDED, 2)
    assert mended.notes.count() == 1


def test_a_fault_goes_from_hand_to_hand_and_back_to_the_bench(report, teodor, perpetua, now):
    fault = upkeep.take_fault(fault=report(), by=teodor, at=now, revision=1)
    assert (fault.stage, fault.taken_by) == (FaultStage.TAKEN, teodor)

    fault = upkeep.take_fault(fault=fault, by=perpetua, at=now, revision=2)
    assert fault.taken_by == perpetua
    with pytest.raises(NotInHand):
        upkeep.hand_back_fault(fault=fault, by=teodor, at=now, revision=3)

    fault = upkeep.hand_back_fault(fault=fault, by=perpetua, at=now, revision=3)
    assert (fault.stage, fault.taken_by) == (FaultStage.REPORTED, None)


def test_nobody_takes_what_is_theirs_already_or_mended(report, mended, teodor, now):
    taken = upkeep.take_fault(fault=report(), by=teodor, at=now, revision=1)

    for fault in (taken, mended):
        assert not eligibility.take_can(fault=fault, by=teodor)
        with pytest.raises(AlreadyTaken):
            upkeep.take_fault(fault=fault, by=teodor, at=now, revision=2)


def test_mending_needs_a_note_of_what_was_done(report, teodor, now):
    fault = report()

    with pytest.raises(NothingWritten):
        upkeep.mend_fault(fault=fault, note=" ", by=teodor, at=now, revision=1)

    assert fault.notes.count() == 0


def test_a_mended_machine_stays_set_aside_until_the_retest(mended, mill, teodor, now):
    assert (mended.stage, mended.mended_by, mended.mended_at) == (FaultStage.MENDED, teodor, now)
    assert Fault.objects.stopping([mill]).exists()

    upkeep.release_fault(fault=mended, retest_note="Ran ten minutes.", by=teodor, at=now, revision=2)

    assert not Fault.objects.stopping([mill]).exists()


def test_release_keeps_who_mended_and_who_retested(mended, teodor, perpetua, now):
    later = now + timedelta(hours=1)

    fault = upkeep.release_fault(fault=mended, retest_note="Ran ten minutes.", by=perpetua, at=later, revision=2)

    assert (fault.mended_by, fault.released_by, fault.released_at) == (teodor, perpetua, later)
    assert fault.retest_note == "Ran ten minutes."


def test_release_without_a_word_about_the_retest_is_refused(mended, teodor, now):
    with pytest.raises(NothingWritten):
        upkeep.release_fault(fault=mended, retest_note="", by=teodor, at=now, revision=2)


def test_what_is_not_mended_is_not_released(report, teodor, now):
    fault = report()
    assert not eligibility.retest_can(fault=fault, by=teodor)

    with pytest.raises(NotMended):
        upkeep.release_fault(fault=fault, retest_note="Looks fine.", by=teodor, at=now, revision=1)


def test_whoever_reported_a_fault_is_told_when_it_is_released(mended, teodor, sunniva, perpetua, now):
    upkeep.release_fault(fault=mended, retest_note="Ran ten minutes.", by=teodor, at=now, revision=2)

    assert told("released") == {"Sunniva Okparadine", "Perpetua Quillstone"}
    message = Message.objects.get(key=f"fault-released:{mended.pk}:{sunniva.pk}")
    assert "Ran ten minutes." in message.body
    assert "No fault stops Heron mill now." in message.body


def test_release_says_when_another_fault_still_stops_the_machine(mended, report, teodor, sunniva, now):
    report(note="The guard is cracked.")

    upkeep.release_fault(fault=mended, retest_note="Ran ten minutes.", by=teodor, at=now, revision=2)

    body = Message.objects.get(key=f"fault-released:{mended.pk}:{sunniva.pk}").body
    assert "Another fault still stops the use of Heron mill." in body


def test_a_failed_retest_puts_it_back_on_the_bench(mended, teodor, now):
    fault = upkeep.fail_retest(fault=mended, retest_note="Still hums.", by=teodor, at=now, revision=2)

    assert (fault.stage, fault.taken_by, fault.mended_by) == (FaultStage.TAKEN, teodor, None)
    with pytest.raises(NotMended):
        upkeep.release_fault(fault=fault, retest_note="Ran.", by=teodor, at=now, revision=3)


def test_a_released_fault_is_over_but_may_get_a_late_note(mended, teodor, now):
    fault = upkeep.release_fault(fault=mended, retest_note="Ran.", by=teodor, at=now, revision=2)

    with pytest.raises(AlreadyReleased):
        upkeep.mend_fault(fault=fault, note="Again.", by=teodor, at=now, revision=3)
    fault = upkeep.note_fault(fault=fault, text="Still good a week later.", by=teodor, at=now, revision=3)

    assert fault.notes.count() == 3


def test_a_milder_grade_sets_the_machine_free_and_a_worse_one_tells(report, mill, sunniva, teodor, perpetua, now):
    fault = upkeep.regrade_fault(
        fault=report(), severity=Severity.USE_WITH_CARE, reason="Only the lamp.", by=teodor, at=now, revision=1
    )
    assert not Fault.objects.stopping([mill]).exists()
    assert told("set-aside") == set()

    upkeep.regrade_fault(fault=fault, severity=Severity.STOPS_USE, reason="It smokes.", by=teodor, at=now, revision=2)

    assert Fault.objects.stopping([mill]).exists()
    assert told("set-aside") == {"Perpetua Quillstone"}


def test_a_guard_or_vital_part_stops_until_it_is_released(report, drive_pin, guard, lead, teodor, now):
    for part in (drive_pin, guard):
        fault = report(part=part)
        with pytest.raises(StopsUntilReleased):
            upkeep.regrade_fault(
                fault=fault, severity=Severity.LOOKS_ONLY, reason="Will do.", by=teodor, at=now, revision=1
            )
        fault.refresh_from_db()
        assert fault.stops_use

    fault = report(part=lead)
    fault = upkeep.regrade_fault(
        fault=fault, severity=Severity.LOOKS_ONLY, reason="Only scuffed.", by=teodor, at=now, revision=1
    )
    assert not fault.stops_use


def test_a_grade_needs_a_reason_and_must_differ(report, teodor, now):
    fault = report()

    with pytest.raises(NothingWritten):
        upkeep.regrade_fault(fault=fault, severity=Severity.LOOKS_ONLY, reason="", by=teodor, at=now, revision=1)
    with pytest.raises(AsBadAsBefore):
        upkeep.regrade_fault(fault=fault, severity=Severity.STOPS_USE, reason="It is.", by=teodor, at=now, revision=1)


WORK = {
    "take": lambda **who: upkeep.take_fault(**who),
    "hand back": lambda **who: upkeep.hand_back_fault(**who),
    "regrade": lambda **who: upkeep.regrade_fault(severity=Severity.LOOKS_ONLY, reason="Small.", **who),
    "mend": lambda **who: upkeep.mend_fault(note="Done.", **who),
    "fail": lambda **who: upkeep.fail_retest(retest_note="No.", **who),
    "release": lambda **who: upkeep.release_fault(retest_note="Ran.", **who),
}


@pytest.mark.parametrize("work", WORK)
def test_borrowers_do_not_work_on_faults_even_their_own(work, mended, sunniva, now):
    with pytest.raises(NotTheirs):
        WORK[work](fault=mended, by=sunniva, at=now, revision=2)


@pytest.mark.parametrize("may", [eligibility.take_can, eligibility.regrade_can, eligibility.mend_can])
def test_volunteers_and_coordinators_may_work_on_a_fault_and_borrowers_may_not(may, report, teodor, perpetua, sunniva):
    fault = report()

    assert [may(fault=fault, by=member) for member in (teodor, perpetua, sunniva)] == [True, True, False]


def test_a_volunteer_whose_account_is_closed_may_not_work_on_a_fault(report, teodor):
    teodor.is_active = False

    assert not eligibility.mend_can(fault=report(), by=teodor)


def test_only_whoever_reported_it_and_those_who_mend_write_notes(report, sunniva, leilani, teodor, now):
    fault = upkeep.note_fault(fault=report(), text="Found the screw.", by=sunniva, at=now, revision=1)

    assert eligibility.note_can(fault=fault, by=teodor)
    assert not eligibility.note_can(fault=fault, by=leilani)
    with pytest.raises(NotTheirs):
        upkeep.note_fault(fault=fault, text="Me too.", by=leilani, at=now, revision=2)


def test_of_two_tabs_the_second_is_told_what_changed_and_by_whom(report, teodor, perpetua, now):
    fault = report()
    upkeep.take_fault(fault=fault, by=teodor, at=now, revision=1)
    upkeep.note_fault(fault=fault, text="Ordered a capacitor.", by=teodor, at=now, revision=2)

    with pytest.raises(FaultChangedMeanwhile) as refusal:
        upkeep.mend_fault(fault=fault, note="New lead.", by=perpetua, at=now, revision=1)

    assert refusal.value.changes == [
        "Teodor Haskerby took it on.",
        "Teodor Haskerby wrote a note: Ordered a capacitor.",
    ]
    assert refusal.value.revision == 3
    fault.refresh_from_db()
    assert (fault.stage, fault.revision) == (FaultStage.TAKEN, 3)


@pytest.mark.parametrize("work", ["take", "mend", "regrade"])
def test_a_double_tap_is_one_deed(work, report, teodor, now):
    fault = report()

    for _tap in range(2):
        again = WORK[work](fault=fault, by=teodor, at=now, revision=1)

    assert again.revision == 2
    assert FaultNote.objects.count() == 1


def test_a_double_tap_on_release_tells_once(mended, teodor, now):
    for _tap in range(2):
        upkeep.release_fault(fault=mended, retest_note="Ran.", by=teodor, at=now, revision=2)

    assert told("released") == {"Sunniva Okparadine"}
    assert FaultNote.objects.count() == 2


def test_each_deed_is_one_line_in_the_logbook(report, drive_pin, mill, teodor, now):
    fault = report(part=drive_pin, note="Bent.")
    fault = upkeep.take_fault(fault=fault, by=teodor, at=now, revision=1)
    fault = upkeep.note_fault(fault=fault, text="Clip gone.", by=teodor, at=now, revision=2)
    fault = upkeep.mend_fault(fault=fault, note="New pin.", by=teodor, at=now, revision=3)
    upkeep.release_fault(fault=fault, retest_note="Held under load.", by=teodor, at=now, revision=4)

    lines = [(entry.by_name, entry.text) for entry in Entry.objects.about(mill).reverse()]
    assert lines == [
        ("Sunniva Okparadine", "Heron mill, Drive pin: fault reported, stops use. Bent."),
        ("Teodor Haskerby", "Heron mill, Drive pin: fault taken on."),
        ("Teodor Haskerby", "Heron mill, Drive pin: note on the fault. Clip gone."),
        ("Teodor Haskerby", "Heron mill, Drive pin: fault mended. New pin."),
        ("Teodor Haskerby", "Heron mill, Drive pin: fault released after a retest. Held under load."),
    ]
