"""Faults of the demonstration: on the bench, waiting for a part, over; and what became of what a borrower reported."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from kitshare.demonstration import pictures
from kitshare.demonstration.kits import Fleet
from kitshare.demonstration.telling import Teller
from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import benching, joining
from kitshare.upkeep.models import Fault
from kitshare.upkeep.photo_models import PhotoWhen
from kitshare.upkeep.picturing import keep_fault_photo
from kitshare.upkeep.spending import Spent

DAY: Final = timedelta(days=1)


def tell_of_faults(teller: Teller, fleet: Fleet, today: date) -> None:
    """A probe that reads low and waits for another, a mill on the bench, and two that Sunniva reported."""
    teodor, sunniva = (Member.objects.get(name=name) for name in ("Teodor Haskerby", "Sunniva Okparadine"))
    kettle, mill = fleet.kettle.machines.get(), fleet.otter.machines.get(kind="mill")
    reads_low = "Reads 3 degrees low in ice slush and in boiling water. Add 3 to what it shows until another comes."
    probe = _found(teller, kettle, teodor, reads_low, today - 5 * DAY, part=kettle.parts.get(name="Probe thermometer"))
    benching.wait_for_part(
        fault=probe,
        waits_for="A new probe with a lead of two metres",
        expected_on=today + 6 * DAY,
        by=teodor,
        at=teller.moment(today - 4 * DAY),
        today=today - 4 * DAY,
        revision=probe.revision,
    )
    blunt_note = "The scratter is blunt and the pulp comes out coarse. On the bench to be sharpened."
    blunt = _found(teller, mill, teodor, blunt_note, today - 3 * DAY)
    photo = pictures.of_a_blade()
    at = teller.moment(today - 3 * DAY)
    keep_fault_photo(fault=blunt, upload=photo, when=PhotoWhen.BEFORE, by=teodor, at=at)
    at = teller.moment(today - 2 * DAY)
    blunt = upkeep.take_fault(fault=blunt, by=teodor, at=at, revision=blunt.revision)
    text, spent = "Drum out, half the blades ground. A stone was bought for the rest.", Spent.of(70, Decimal("14.50"))
    upkeep.note_fault(fault=blunt, text=text, spent=spent, by=teodor, at=at, revision=blunt.revision)
    stones = _found(
        teller, fleet.otter.machines.get(kind="press"), teodor, "Grit from the mill in the cloths.", today - 2 * DAY
    )
    joining.join_fault(fault=stones, main=blunt, by=teodor, at=at, revision=stones.revision)
    _over(teller, fleet, today, teodor, sunniva)


def _over(teller: Teller, fleet: Fleet, today: date, teodor: Member, sunniva: Member) -> None:
    press = fleet.heron.machines.get(kind="press")
    loose = _found(teller, press, sunniva, "One foot of the press is loose and it rocks.", today - 9 * DAY)
    at, spent = teller.moment(today - 8 * DAY), Spent.of(25, None)
    loose = upkeep.mend_fault(
        fault=loose, note="New bolt in the foot, all four drawn tight.", spent=spent, by=teodor, at=at, revision=1
    )
    retest = "Pressed water through six cloths: it stands still."
    upkeep.release_fault(fault=loose, retest_note=retest, by=teodor, at=at, revision=loose.revision)
    stain = _found(teller, press, sunniva, "The tray is stained brown.", today - 9 * DAY, severity=Severity.LOOKS_ONLY)
    benching.give_up_fault(fault=stain, reason="Scrubbed twice; it is only colour.", by=teodor, at=at, revision=1)


def _found(
    teller: Teller,
    machine: Machine,
    by: Member,
    note: str,
    day: date,
    *,
    part: Part | None = None,
    severity: Severity = Severity.USE_WITH_CARE,
) -> Fault:
    at = teller.moment(day)
    return upkeep.report_fault(machine=machine, part=part, note=note, severity=severity, by=by, at=at)
