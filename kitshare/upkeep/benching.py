"""Deeds about a fault that is not mended yet: handed on, waiting for a part, given up."""

from datetime import date, datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.people.models import Member
from kitshare.upkeep import eligibility, notices
from kitshare.upkeep.fault_changes import followers_of, lock, record, written
from kitshare.upkeep.models import Fault, FaultDeed, FaultStage
from kitshare.upkeep.refusals import DayIsPast
from kitshare.upkeep.words import day_with_year


@deed
def hand_on_fault(*, fault: Fault, to: Member, text: str, by: Member, at: datetime, revision: int) -> Fault:
    """Put a fault into the hands of somebody else who mends, who is told. What was tried so far may go with it."""
    said = _("To %(who)s. %(text)s") % {"who": to.name, "text": text.strip()}
    fault, is_done = lock(fault, FaultDeed.HANDED_ON, said.strip(), by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_hand_on_to(fault=fault, to=to, by=by)
    fault.stage, fault.taken_by = FaultStage.TAKEN, to
    record(FaultDeed.HANDED_ON, _("%(where)s: fault handed on. %(text)s"), said.strip(), fault=fault, by=by, at=at)
    notices.handed_on(fault=fault, to=to, text=text.strip(), by=by, at=at)
    return fault


@deed
def wait_for_part(
    *, fault: Fault, waits_for: str, expected_on: date, by: Member, at: datetime, today: date, revision: int
) -> Fault:
    """Record what a fault waits for and when that is expected, today or later. It stops what it stopped before."""
    waits_for = written(waits_for, field="waits_for", sentence=_("Say what it waits for."))
    said = _("%(what)s, expected on %(day)s.") % {"what": waits_for.rstrip("."), "day": day_with_year(expected_on)}
    fault, is_done = lock(fault, FaultDeed.WAITS, said, by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_wait(fault=fault, by=by)
    if expected_on < today:
        raise DayIsPast(expected_on)
    fault.stage, fault.taken_by = FaultStage.TAKEN, fault.taken_by or by
    fault.waits_for, fault.expected_on = waits_for, expected_on
    record(FaultDeed.WAITS, _("%(where)s: fault waits for a part. %(text)s"), said, fault=fault, by=by, at=at)
    return fault


@deed
def part_came(*, fault: Fault, by: Member, at: datetime, revision: int) -> Fault:
    """Record that what a fault waited for is there: it can be mended."""
    fault, is_done = lock(fault, FaultDeed.PART_CAME, "", by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_go_on(fault=fault, by=by)
    fault.wait_no_more()
    record(FaultDeed.PART_CAME, _("%(where)s: what the fault waited for is there."), "", fault=fault, by=by, at=at)
    return fault


@deed
def give_up_fault(*, fault: Fault, reason: str, by: Member, at: datetime, revision: int) -> Fault:
    """End a fault without mending it, with the reason. Raises StopsSomethingInUse where that would lift a stop."""
    reason = written(reason, field="reason", sentence=_("Say why it is given up: whoever reported it is told."))
    fault, is_done = lock(fault, FaultDeed.GIVEN_UP, reason, by=by, revision=revision)
    if is_done:
        return fault
    followers = followers_of(fault)
    eligibility.check_can_give_up(fault=fault, by=by)
    for follower in followers:
        eligibility.check_stops_nothing_in_use(fault=follower)
    fault.wait_no_more()
    fault.stage, fault.taken_by = FaultStage.GIVEN_UP, None
    fault.given_up_by, fault.given_up_at, fault.given_up_reason = by, at, reason
    record(FaultDeed.GIVEN_UP, _("%(where)s: fault given up. %(text)s"), reason, fault=fault, by=by, at=at)
    notices.given_up(fault=fault, followers=followers, by=by, at=at)
    return fault
