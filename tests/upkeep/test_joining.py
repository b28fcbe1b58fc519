"""Faults of one cause: the joined one follows, keeps its own stop until the end, and can be parted again."""

from datetime import date
from functools import partial

import pytest
from django.db import IntegrityError

from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import benching, joining
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.refusals import (
    CannotBeFollowed,
    FaultChangedMeanwhile,
    FollowsAnother,
    FollowsNone,
    MendedAlready,
    OthersFollow,
    StopsSomethingInUse,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def report(report):
    """Reports a fault to use with care, unless told otherwise."""
    return partial(report, severity=Severity.USE_WITH_CARE)


@pytest.fixture
def pair(report, press, leilani, do) -> tuple[Fault, Fault]:
    """A fault of the mill that cautions, and one of the press joined to it that stops."""
    main = report()
    joined = report(machine=press, note="It stands still.", severity=Severity.STOPS_USE, by=leilani)
    return main, do(joining.join_fault, joined, main=main)


def stages(*faults: Fault) -> list[str]:
    return [Fault.objects.get(pk=fault.pk).stage for fault in faults]


def test_a_joined_fault_goes_the_way_of_the_main_one_and_stops_its_machine_until_that_is_released(
    pair, press, do, teodor, perpetua, sunniva, leilani, today
):
    main, joined = pair

    do(upkeep.take_fault, main)
    assert stages(*pair) == [FaultStage.TAKEN] * 2
    do(benching.wait_for_part, main, waits_for="A lead", expected_on=date(2027, 9, 4), today=today)
    assert Fault.objects.get(pk=joined.pk).waits_for == "A lead"
    do(upkeep.mend_fault, main, note="New lead.")
    do(upkeep.fail_retest, main, retest_note="Hums still.")
    do(upkeep.mend_fault, main, note="New plug too.")
    assert stages(*pair) == [FaultStage.MENDED] * 2
    assert list(Fault.objects.stopping([press])) == [joined]
    do(upkeep.release_fault, main, retest_note="Both ran.")

    joined.refresh_from_db()
    assert (joined.stage, joined.released_by, joined.retest_note) == (FaultStage.RELEASED, teodor, "Both ran.")
    assert not Fault.objects.stopping([press]).exists()
    assert joined.notes.get(revision=2).deed == "joined"
    told = Message.objects.filter(key__startswith="fault-released").values_list("to_name", "subject").order_by("pk")
    assert list(told) == [
        ("Sunniva Okparadine", "Released: Heron mill"),
        ("Perpetua Quillstone", "Released: Heron mill"),
        ("Leilani Crabbwater", "Released: Heron press"),
    ]
    assert Entry.objects.about(joined).filter(deed="fault_released").count() == 1


def test_who_reported_both_hears_once(report, press, do, sunniva):
    main, joined = report(), report(machine=press)
    do(joining.join_fault, joined, main=main)
    do(upkeep.mend_fault, main, note="Done.")
    do(upkeep.release_fault, main, retest_note="Ran.")

    assert Message.objects.filter(to_name=sunniva.name).count() == 1


def test_a_joined_fault_is_worked_on_at_the_main_one_alone(pair, do):
    _main, joined = pair

    for deed, said in ((upkeep.take_fault, {}), (upkeep.mend_fault, {"note": "Done."}), (upkeep.hand_back_fault, {})):
        with pytest.raises(FollowsAnother) as refusal:
            do(deed, joined, **said)
    assert "joined to the one of Heron mill" in str(refusal.value)
    do(upkeep.note_fault, joined, text="A note may stand here too.")


def test_parted_again_it_stands_for_itself_and_is_not_taken_as_mended(pair, press, do):
    main, joined = pair
    do(upkeep.mend_fault, main, note="New lead.")

    do(joining.part_fault, joined)

    assert stages(main, joined) == [FaultStage.MENDED, FaultStage.TAKEN]
    do(upkeep.release_fault, main, retest_note="Ran.")
    assert list(Fault.objects.stopping([press])) == [joined]
    with pytest.raises(FollowsNone):
        do(joining.part_fault, joined)


def test_what_can_not_be_joined_is_refused_in_words(pair, report, do):
    main, joined = pair
    other = report(note="Another.")

    for fault, to, refusal in (
        (main, other, OthersFollow),
        (joined, other, FollowsAnother),
        (other, joined, CannotBeFollowed),
        (other, other, CannotBeFollowed),
    ):
        with pytest.raises(refusal):
            do(joining.join_fault, fault, main=to)
    do(upkeep.mend_fault, main, note="Done.")
    with pytest.raises(CannotBeFollowed):
        do(joining.join_fault, other, main=main)
    do(upkeep.mend_fault, other, note="Done.")
    with pytest.raises(MendedAlready):
        do(joining.join_fault, other, main=report(note="A third."))
    with pytest.raises(IntegrityError, match="fault_is_not_joined_to_itself"):
        Fault.objects.filter(pk=other.pk).update(joined_to=other.pk)


def test_whoever_works_on_the_main_one_hears_that_another_was_joined_meanwhile(report, press, do):
    main, joined = report(), report(machine=press)
    seen = main.revision
    do(joining.join_fault, joined, main=main)

    with pytest.raises(FaultChangedMeanwhile) as refusal:
        do(upkeep.mend_fault, main, note="Done.", revision=seen)

    assert refusal.value.changes == ["Teodor Haskerby joined another to it: Heron press: It hums."]


def test_the_main_one_is_not_given_up_while_a_joined_one_stops_a_machine(pair, do):
    main, _joined = pair

    with pytest.raises(StopsSomethingInUse) as refusal:
        do(benching.give_up_fault, main, reason="Too dear.")

    assert "Heron press" in str(refusal.value)
    assert stages(*pair) == [FaultStage.REPORTED] * 2
