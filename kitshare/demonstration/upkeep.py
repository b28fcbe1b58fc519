"""What recurs in the demonstration: services and safety tests of its machines, the last ones recorded.

Heron's mill has its electrical test due next week, before a booked weekend; how often each is done, and every reading,
is invented.
"""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from kitshare.demonstration.kits import Fleet
from kitshare.demonstration.telling import Teller, at_nine
from kitshare.kits.models import Kit, MachineKind
from kitshare.people.electrical_rules import choose_electrical_rules
from kitshare.people.models import Member, Scheme
from kitshare.rules.electrics import RuleSet
from kitshare.rules.instruments import Bound, Figure, Kind
from kitshare.rules.leads import Lead
from kitshare.upkeep import care, season_tasks, testing
from kitshare.upkeep.season_lists import list_to_begin_with
from kitshare.upkeep.season_models import Occasion
from kitshare.upkeep.testing import Findings

DAY: Final = timedelta(days=1)
TESTER: Final = "Branwell Oxtaby, electrician"
COMPETENT: Final = "a competent person under local rules"
# Invented, like everything here: what a maker's book says differs from mill to mill.
LIMITS: Final[dict[str, Any]] = {
    "Blades sharpened and set": {"every_kg": Decimal(1000), "every_outings": 20},
    "Spindle cleaned and greased": {"every_hours": Decimal(80)},
}
FOUND: Final = {
    "electrical": Findings(
        readings={
            Kind.VISUAL: True,
            Kind.EARTH: Figure(value=Decimal("0.18")),
            Kind.INSULATION: Figure(value=Decimal(200), bound=Bound.MORE),
            Kind.LEAKAGE: Figure(value=Decimal("0.4")),
        },
        lead=Lead(length_m=Decimal(10), mm2=Decimal("1.5")),
        instrument="Tester 2 of the Old Goods Shed",
    ),
    "trip_switch": Findings(
        readings={
            Kind.VISUAL: True,
            Kind.TRIP_HALF: True,
            Kind.TRIP_RATED: Figure(value=Decimal(24)),
            Kind.TRIP_FIVE: Figure(value=Decimal(17)),
        },
        instrument="Tester 2 of the Old Goods Shed",
    ),
    "guard": Findings(readings={Kind.VISUAL: True, Kind.GUARD: True, Kind.INTERLOCK: True}),
}


def plan_and_record(teller: Teller, fleet: Fleet, today: date) -> None:
    """A test soon due, a service overdue by date, one soon due by kilograms, and what is due later."""
    teodor = Member.objects.get(name="Teodor Haskerby")
    scheme = Scheme.objects.get()
    choose_electrical_rules(scheme=scheme, rules=RuleSet.UNITED_KINGDOM, by=teller.coordinator, at=teller.now)
    every_year, half_a_year = (12, "months"), (6, "months")
    told = [
        (fleet.heron, MachineKind.MILL, "electrical", "Electrical test of mill and lead", every_year, 6),
        (fleet.heron, MachineKind.MILL, "guard", "Feed guard and cut-off", half_a_year, 61),
        (fleet.heron, MachineKind.MILL, "service", "Blades sharpened", (3, "months"), -4),
        (fleet.heron, MachineKind.PASTEURISER, "trip_switch", "Trip switch", every_year, 117),
        (fleet.otter, MachineKind.MILL, "electrical", "Electrical test of mill and lead", every_year, 154),
        (fleet.otter, MachineKind.MILL, "service", "Blades sharpened and set", (12, "months"), 170),
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
        **LIMITS.get(name, {}),
        who=COMPETENT if kind != "service" else "",
        caution="",
        by=by,
        at=done_at - DAY,
    )
    said: dict[str, Any] = {
        "plan": plan,
        "done_on": done_on,
        "done_by_name": by.name if kind in {"service", "guard"} else TESTER,
        "passed": True,
        "note": "",
        "next_due_on": due_on,
        "by": by,
        "at": done_at,
        "today": done_on,
    }
    if kind in FOUND:
        testing.record_test(tested=FOUND[kind], **said)
    else:
        care.record_care(**said)


def list_the_season(teller: Teller, fleet: Fleet) -> None:
    """Heron's lists as they are offered: the season's start ticked off but for one task, its end still to come."""
    teodor = Member.objects.get(name="Teodor Haskerby")
    season: dict[str, Any] = {"season_key": teller.season.pk, "season_name": teller.season.name}
    for machine in fleet.heron.machines.order_by("position", "pk"):
        for occasion in Occasion:
            lines = list_to_begin_with(machine, occasion)
            tasks = season_tasks.list_tasks(machine=machine, occasion=occasion, lines=lines, by=teodor, at=teller.now)
            if occasion == Occasion.START:
                done = tasks[:-1] if machine.kind == MachineKind.PASTEURISER else tasks
                season_tasks.tick(tasks=done, by=teodor, at=teller.now, **season)
