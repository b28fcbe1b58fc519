"""What recurs in the demonstration: services and safety tests of its machines, the last ones recorded.

Heron's mill has its electrical test due next week, before a booked weekend; how often each is done is invented.
"""

from datetime import date, timedelta
from typing import Final

from kitshare.demonstration.kits import Fleet
from kitshare.demonstration.telling import Teller, at_nine
from kitshare.kits.models import Kit, MachineKind
from kitshare.people.models import Member
from kitshare.upkeep import care

DAY: Final = timedelta(days=1)
TESTER: Final = "Branwell Oxtaby, electrician"
COMPETENT: Final = "a competent person under local rules"


def plan_and_record(teller: Teller, fleet: Fleet, today: date) -> None:
    """A test soon due, a service overdue, and what is due later."""
    teodor = Member.objects.get(name="Teodor Haskerby")
    every_year, half_a_year = (12, "months"), (6, "months")
    told = [
        (fleet.heron, MachineKind.MILL, "electrical", "Electrical test of mill and lead", every_year, 6),
        (fleet.heron, MachineKind.MILL, "guard", "Feed guard and cut-off", half_a_year, 61),
        (fleet.heron, MachineKind.MILL, "service", "Blades sharpened", (3, "months"), -4),
        (fleet.heron, MachineKind.PASTEURISER, "trip_switch", "Trip switch", every_year, 117),
        (fleet.otter, MachineKind.MILL, "electrical", "Electrical test of mill and lead", every_year, 154),
        (fleet.otter, MachineKind.PRESS, "service", "Spindle cleaned and greased", (90, "days"), 12),
        (fleet.kettle, MachineKind.PASTEURISER, "probe", "Probe in ice slush and boiling water", half_a_year, 96),
    ]
    for kit, machine, kind, name, interval, due_in in told:
        _one(teller, teodor, kit, machine, kind, name, interval, today + due_in * DAY)


def _one(
    teller: Teller,
    by: Member,
    kit: Kit,
    machine: MachineKind,
    kind: str,
    name: str,
    interval: tuple[int, str],
    due_on: date,
) -> None:
    """A plan made last season, and the last time it was done, so that it is due on a day."""
    every, unit = interval
    done_on = due_on - timedelta(days=every * 30 if unit == "months" else every)
    done_at = min(at_nine(done_on), teller.now)
    plan = care.plan_care(
        machine=kit.machines.get(kind=machine),
        kind=kind,
        name=name,
        every=every,
        unit=unit,
        due_on=done_on,
        who=COMPETENT if kind != "service" else "",
        caution="",
        by=by,
        at=done_at - DAY,
    )
    care.record_care(
        plan=plan,
        done_on=done_on,
        done_by_name=by.name if kind in {"service", "guard"} else TESTER,
        passed=True,
        note="",
        next_due_on=due_on,
        by=by,
        at=done_at,
        today=done_on,
    )
