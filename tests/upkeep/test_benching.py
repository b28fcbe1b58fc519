"""Faults handed on, waiting for a part, given up: what each changes and tells, and that giving up lifts no stop."""

from datetime import date

import pytest

from kitshare.kits import actions as kits
from kitshare.kits.models import Machine
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import benching
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.refusals import (
    DayIsPast,
    DoesNotMend,
    FaultChangedMeanwhile,
    GivenUpAlready,
    HasItAlready,
    MendedAlready,
    NotTheirs,
    NotTheirsToHandOn,
    StopsSomethingInUse,
    WaitsForNothing,
)

pytestmark = pytest.mark.django_db


def told(event: str) -> list[str]:
    return sorted(Message.objects.filter(key__startswith=f"fault-{event}").values_list("to_name", flat=True))


def test_whoever_a_fault_is_handed_on_to_has_it_and_hears_so_once(report, do, perpetua, teodor, now):
    fault = do(upkeep.take_fault, report())
    seen = fault.revision

    for _tap in range(2):
        do(benching.hand_on_fault, fault, to=perpetua, text="The bearing came off.", revision=seen)

    fault.refresh_from_db()
    assert (fault.taken_by, fault.stage, fault.revision) == (perpetua, FaultStage.TAKEN, seen + 1)
    assert fault.notes.last().text == "To Perpetua Quillstone. The bearing came off."
    assert told("handed-on") == ["Perpetua Quillstone"]
    assert "The bearing came off." in Message.objects.get(key__startswith="fault-handed-on").body


def test_handing_on_is_refused_in_words(report, do, perpetua, teodor, sunniva):
    fault = report()

    for to, by, refusal in (
        (perpetua, sunniva, NotTheirs),
        (perpetua, teodor, NotTheirsToHandOn),
        (sunniva, perpetua, DoesNotMend),
    ):
        with pytest.raises(refusal):
            do(benching.hand_on_fault, fault, to=to, text="", by=by)
    do(benching.hand_on_fault, fault, to=teodor, text="", by=perpetua)  # a coordinator, from the bench
    with pytest.raises(HasItAlready):
        do(benching.hand_on_fault, fault, to=teodor, text="", by=perpetua)
    do(upkeep.mend_fault, fault, note="Done.")
    with pytest.raises(MendedAlready):
        do(benching.hand_on_fault, fault, to=perpetua, text="")


def test_two_who_mend_at_once_hear_of_each_other(report, do, perpetua, teodor, now):
    fault = report()
    do(upkeep.mend_fault, fault, note="Tightened the belt.")

    with pytest.raises(FaultChangedMeanwhile) as refusal:
        do(upkeep.mend_fault, fault, note="New belt.", by=perpetua, revision=1)

    assert refusal.value.changes == ["Teodor Haskerby mended it: Tightened the belt."]


def test_what_waits_for_a_part_stops_what_it_stopped_until_it_is_released(report, do, mill, today, teodor):
    fault = report()

    do(benching.wait_for_part, fault, waits_for="Drive belt", expected_on=date(2027, 9, 10), today=today)

    fault.refresh_from_db()
    assert (fault.waits_for, fault.expected_on, fault.taken_by) == ("Drive belt", date(2027, 9, 10), teodor)
    assert fault.notes.get().text == "Drive belt, expected on Fri 10 Sep 2027."
    assert list(Fault.objects.stopping([mill])) == [fault]
    do(upkeep.hand_back_fault, fault)
    fault.refresh_from_db()
    assert fault.waits_for == "Drive belt"
    do(benching.part_came, fault)
    with pytest.raises(WaitsForNothing):
        do(benching.part_came, fault)
    do(benching.wait_for_part, fault, waits_for="Drive belt", expected_on=today, today=today)
    do(upkeep.mend_fault, fault, note="Fitted.")
    fault.refresh_from_db()
    assert (fault.waits_for, fault.expected_on) == ("", None)


def test_a_part_is_not_expected_yesterday(report, do, today):
    with pytest.raises(DayIsPast) as refusal:
        do(benching.wait_for_part, report(), waits_for="Belt", expected_on=date(2027, 8, 31), today=today)

    assert refusal.value.field == "expected_on"


def test_a_fault_that_stops_nothing_is_given_up_and_its_reporter_hears_why(report, do, perpetua, teodor, mill):
    fault = report(severity=Severity.LOOKS_ONLY)

    do(benching.give_up_fault, fault, reason="A scratch more is no matter.")

    fault.refresh_from_db()
    assert (fault.stage, fault.is_open, fault.given_up_by) == (FaultStage.GIVEN_UP, False, teodor)
    assert list(Fault.objects.open()) == []
    assert list(Fault.objects.over()) == [fault]
    assert told("given-up") == ["Perpetua Quillstone", "Sunniva Okparadine"]
    assert "A scratch more is no matter." in Message.objects.get(key__contains="given-up", to_name__startswith="S").body
    with pytest.raises(GivenUpAlready):
        do(upkeep.take_fault, fault)


@pytest.mark.parametrize("which", ["", "guard", "drive_pin", "lead"])
def test_giving_up_never_makes_a_machine_lendable(which, request, report, do, mill, press, teodor, now, today):
    part = request.getfixturevalue(which) if which else None
    if which == "drive_pin":
        part.also_serves.add(press)
    fault = report(part=part)
    sign = {"by": teodor, "at": now, "today": today}

    with pytest.raises(StopsSomethingInUse):
        do(benching.give_up_fault, fault, reason="Too dear.")
    if part is not None and which != "lead":
        kits.retire_part(part=part, **sign)
        with pytest.raises(StopsSomethingInUse):
            do(benching.give_up_fault, fault, reason="Too dear.")
    kits.retire_machine(machine=mill, **sign)
    if which == "drive_pin":
        with pytest.raises(StopsSomethingInUse):
            do(benching.give_up_fault, fault, reason="The press needs it still.")
        kits.retire_machine(machine=press, **sign)
    do(benching.give_up_fault, fault, reason="It goes for scrap.")
    assert not Fault.objects.open().exists()

    # Brought back into use it is stopped as before, until it is mended and retested.
    kits.bring_back_machine(machine=mill, by=teodor, at=now)
    assert list(Fault.objects.stopping([mill])) == list(Fault.objects.open()) == [fault]
    fault = Fault.objects.select_related("machine__kit", "part").get()
    assert fault.is_open
    do(upkeep.take_fault, fault)
    do(upkeep.mend_fault, fault, note="New one.")
    do(upkeep.release_fault, fault, retest_note="Ran.")
    assert not Fault.objects.stopping([mill]).exists()


def test_an_ordinary_part_goes_with_its_fault_and_comes_back_with_it(report, do, lead, mill, teodor, now, today):
    fault = report(part=lead)
    kits.retire_part(part=lead, by=teodor, at=now, today=today)

    do(benching.give_up_fault, fault, reason="The lead is thrown away.")

    assert not Fault.objects.stopping([mill]).exists()
    kits.bring_back_part(part=lead, by=teodor, at=now)
    assert list(Fault.objects.stopping([mill])) == [fault]


def test_what_one_fault_says_of_itself_is_what_the_query_says(report, do, guard, lead, mill, press, heron, now, today):
    """`is_open` and `open()` over every mix of severity, part, and what is retired."""
    made = []
    for part in (None, guard, lead):
        for severity in Severity:
            made.append(report(part=part, severity=severity, note=f"{part} {severity}"))
    guard.also_serves.add(press)
    Fault.objects.update(
        stage=FaultStage.GIVEN_UP, given_up_by=made[0].reported_by, given_up_at=now, given_up_reason="Gone."
    )
    for number in range(16):
        for place, thing in enumerate((mill, press, guard, lead)):
            type(thing).objects.filter(pk=thing.pk).update(retired_on=today if number >> place & 1 else None)

        found = set(Fault.objects.open().values_list("pk", flat=True))

        says = {fault.pk for fault in Fault.objects.select_related("machine__kit", "part") if fault.is_open}
        assert found == says
    assert Machine.objects.get(pk=mill.pk).retired_on == today
    assert found == set()
