"""The deeds about a fault from its report to its release. What each is made of stands in `fault_changes`."""

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.upkeep import eligibility, notices, shelf
from kitshare.upkeep.fault_changes import NOTHING, followers_of, lock, lock_machine, record, write, written
from kitshare.upkeep.models import SEVERITIES, Fault, FaultDeed, FaultStage
from kitshare.upkeep.refusals import PartOfAnotherMachine
from kitshare.upkeep.shelf import Used
from kitshare.upkeep.spending import Spent

SEVERITY_WORDS: Final = dict(SEVERITIES)


@deed
def report_fault(
    *,
    machine: Machine,
    part: Part | None,
    note: str,
    severity: Severity,
    by: Member,
    at: datetime,
    form_key: uuid.UUID | None = None,
) -> Fault:
    """Record that something is wrong with a machine or a part of it, and whether the machine can still go out.

    A form sends a key of its own: sent twice, it is one fault, and the second answer is the first.
    """
    note = written(note, field="note", sentence=_("Say what is wrong: somebody has to find it again."))
    if part is not None and part.machine_id != machine.pk:
        raise PartOfAnotherMachine(part=part, machine=machine)
    machine = lock_machine(machine.pk)
    said = f"{by.pk} {machine.pk} {part.pk if part else None} {severity} {note}"
    key = uuid.uuid5(form_key, said) if form_key else uuid.uuid4()
    reported_before = Fault.objects.filter(key=key).first()
    if reported_before is not None:
        return reported_before
    fault = Fault(
        key=key,
        machine=machine,
        part=part,
        note=note,
        severity=Severity(severity).value,
        reported_by=by,
        reported_at=at,
    )
    fault.save()
    text = _("%(where)s: fault reported, %(severity)s. %(text)s")
    write("fault_reported", text, note, fault=fault, by=by, at=at)
    notices.reported(fault=fault, at=at)
    return fault


@deed
def take_fault(*, fault: Fault, by: Member, at: datetime, revision: int) -> Fault:
    """Take a fault on, from the bench or out of somebody else's hands."""
    fault, is_done = lock(fault, FaultDeed.TAKEN, "", by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_take(fault=fault, by=by)
    fault.stage, fault.taken_by = FaultStage.TAKEN, by
    record(FaultDeed.TAKEN, _("%(where)s: fault taken on."), "", fault=fault, by=by, at=at)
    return fault


@deed
def hand_back_fault(*, fault: Fault, by: Member, at: datetime, revision: int) -> Fault:
    """Put a fault back on the bench for whoever has the time."""
    fault, is_done = lock(fault, FaultDeed.HANDED_BACK, "", by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_hand_back(fault=fault, by=by)
    fault.stage, fault.taken_by = FaultStage.REPORTED, None
    record(FaultDeed.HANDED_BACK, _("%(where)s: fault handed back to the bench."), "", fault=fault, by=by, at=at)
    return fault


@deed
def note_fault(*, fault: Fault, text: str, by: Member, at: datetime, revision: int, spent: Spent = NOTHING) -> Fault:
    """Write down what somebody found or tried, and what it took."""
    text = written(text, field="text", sentence=_("Write the note first."))
    fault, is_done = lock(fault, FaultDeed.NOTED, text, by=by, revision=revision, spent=spent)
    if is_done:
        return fault
    eligibility.check_can_note(fault=fault, by=by)
    record(FaultDeed.NOTED, _("%(where)s: note on the fault. %(text)s"), text, fault=fault, by=by, at=at, spent=spent)
    return fault


@deed
def regrade_fault(*, fault: Fault, severity: Severity, reason: str, by: Member, at: datetime, revision: int) -> Fault:
    """Judge a fault worse or milder than it was, with the reason. Raises StopsUntilReleased for what stays a stop."""
    reason = written(reason, field="reason", sentence=_("Say why you judge it otherwise."))
    text = _("Now “%(severity)s”. %(reason)s") % {"severity": SEVERITY_WORDS[severity], "reason": reason}
    fault, is_done = lock(fault, FaultDeed.REGRADED, text, by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_regrade_to(fault=fault, severity=severity, by=by)
    fault.severity = Severity(severity).value
    record(FaultDeed.REGRADED, _("%(where)s: fault judged anew. %(text)s"), text, fault=fault, by=by, at=at)
    if fault.stops_use:
        notices.set_aside(fault=fault, reason=reason, by=by, at=at)
    return fault


@deed
def mend_fault(
    *,
    fault: Fault,
    note: str,
    by: Member,
    at: datetime,
    revision: int,
    used: Sequence[Used] = (),
    spent: Spent = NOTHING,
) -> Fault:
    """Record what was done to mend it, and what it took. The machine stays set aside until the retest.

    What was used comes off the shelf with it; where there is too little nothing is recorded. Raises TooFewOnShelf.
    """
    note = written(note, field="note", sentence=_("Say what was done: whoever retests it must know where to look."))
    fault, is_done = lock(fault, FaultDeed.MENDED, note, by=by, revision=revision, spent=spent)
    if is_done:
        return fault
    eligibility.check_can_mend(fault=fault, by=by)
    shelf.use_in_mending(fault=fault, used=used, by=by, at=at)
    fault.stage, fault.mended_by, fault.mended_at = FaultStage.MENDED, by, at
    fault.taken_by = fault.taken_by or by
    fault.wait_no_more()
    record(FaultDeed.MENDED, _("%(where)s: fault mended. %(text)s"), note, fault=fault, by=by, at=at, spent=spent)
    return fault


@deed
def fail_retest(*, fault: Fault, retest_note: str, by: Member, at: datetime, revision: int) -> Fault:
    """Record that the mending did not hold; the fault goes back to whoever had it."""
    retest_note = _retested(retest_note)
    fault, is_done = lock(fault, FaultDeed.RETEST_FAILED, retest_note, by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_retest(fault=fault, by=by)
    fault.stage, fault.mended_by, fault.mended_at = FaultStage.TAKEN, None, None
    text = _("%(where)s: fault retested, not right yet. %(text)s")
    record(FaultDeed.RETEST_FAILED, text, retest_note, fault=fault, by=by, at=at)
    return fault


@deed
def release_fault(*, fault: Fault, retest_note: str, by: Member, at: datetime, revision: int) -> Fault:
    """End a fault after a retest, with how it was retested. The machine may go out if nothing else stops it."""
    retest_note = _retested(retest_note)
    fault, is_done = lock(fault, FaultDeed.RELEASED, retest_note, by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_retest(fault=fault, by=by)
    fault.stage, fault.retest_note = FaultStage.RELEASED, retest_note
    fault.released_by, fault.released_at = by, at
    text = _("%(where)s: fault released after a retest. %(text)s")
    record(FaultDeed.RELEASED, text, retest_note, fault=fault, by=by, at=at)
    notices.released(fault=fault, followers=followers_of(fault), by=by, at=at)
    return fault


def _retested(note: str) -> str:
    sentence = _("Say how it was retested, and what came of it.")
    return written(note, field="retest_note", sentence=sentence)
