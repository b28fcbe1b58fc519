"""Faults of one cause: one of them is worked on, the others follow it, until somebody parts them again."""

from datetime import datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.people.models import Member
from kitshare.upkeep import eligibility
from kitshare.upkeep.fault_changes import follow, lock, lock_machines, record
from kitshare.upkeep.models import Fault, FaultDeed, FaultStage
from kitshare.upkeep.words import where


@deed
def join_fault(*, fault: Fault, main: Fault, by: Member, at: datetime, revision: int) -> Fault:
    """Let a fault follow another of the same cause: taken on, mended and released with it.

    Each keeps its own severity, so a joined fault stops its machine until the other is released.
    """
    lock_machines({fault.machine_id, main.machine_id})
    said = _of(main)
    fault, is_done = lock(fault, FaultDeed.JOINED, said, by=by, revision=revision)
    if is_done:
        return fault
    people = ("machine__kit", "part", "joined_to__machine__kit", "joined_to__part")
    main = Fault.objects.select_related(*people).select_for_update(of=("self",)).get(pk=main.pk)
    eligibility.check_can_join_to(fault=fault, main=main, by=by)
    fault.joined_to = main
    follow(fault, main)
    record(FaultDeed.JOINED, _("%(where)s: fault joined to another. %(text)s"), said, fault=fault, by=by, at=at)
    text = _("%(where)s: another fault joined to this one. %(text)s")
    record(FaultDeed.FOLLOWED, text, _of(fault), fault=main, by=by, at=at)
    return fault


@deed
def part_fault(*, fault: Fault, by: Member, at: datetime, revision: int) -> Fault:
    """Let a joined fault stand for itself again. What was mended at the other is not taken as mended at this one."""
    lock_machines(Fault.objects.filter(Q(pk=fault.pk) | Q(joined=fault.pk)).values_list("machine", flat=True))
    before = Fault.objects.filter(joined=fault.pk).select_related("machine", "part").first()
    said = _of(before) if before else ""
    fault, is_done = lock(fault, FaultDeed.PARTED, said, by=by, revision=revision)
    if is_done:
        return fault
    eligibility.check_can_part(fault=fault, by=by)
    assert before is not None  # noqa: S101 - it follows that one, says the check
    main = Fault.objects.select_related("machine__kit", "part").select_for_update(of=("self",)).get(pk=before.pk)
    fault.joined_to = None
    if fault.stage == FaultStage.MENDED:
        fault.stage, fault.mended_by, fault.mended_at = FaultStage.TAKEN, None, None
    text = _("%(where)s: fault parted from another. %(text)s")
    record(FaultDeed.PARTED, text, said, fault=fault, by=by, at=at)
    record(FaultDeed.PARTED, text, _of(fault), fault=main, by=by, at=at)
    return fault


def _of(fault: Fault) -> str:
    return f"{where(fault)}: {fault.note}"[:500]
