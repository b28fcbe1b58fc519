"""The invented kits of the demonstration: from the starter list, with numbers stamped on the parts."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from kitshare.demonstration import pictures
from kitshare.kits import actions as kits
from kitshare.kits import weighing
from kitshare.kits.code_models import Code
from kitshare.kits.models import Depot, Kit, KitShape, MachineKind, Part
from kitshare.kits.saving import MachineFacts
from kitshare.people.models import Member
from kitshare.rules.checklists import PartKind

FIGURES: dict[tuple[str, str], MachineFacts] = {
    ("Heron", MachineKind.MILL): {"kg_per_hour": 500, "power_watts": 2200},
    ("Heron", MachineKind.PRESS): {
        "kg_per_hour": 200,
        "cheese_kg": Decimal(50),
        "cloths_per_cheese": 8,
        "power_watts": 0,
    },
    ("Heron", MachineKind.PASTEURISER): {"power_watts": 6000, "bath_litres": Decimal(55), "bath_bottles": 72},
    ("Otter", MachineKind.MILL): {"kg_per_hour": 350, "power_watts": 1500},
    ("Otter", MachineKind.PRESS): {
        "kg_per_hour": 120,
        "cheese_kg": Decimal(35),
        "cloths_per_cheese": 6,
        "power_watts": 0,
    },
    ("Otter", MachineKind.PASTEURISER): {"power_watts": 3000, "bath_litres": Decimal(40), "bath_bottles": 40},
    ("Wren", MachineKind.MILL): {"kg_per_hour": 80, "power_watts": 0},
    ("Wren", MachineKind.PRESS): {
        "kg_per_hour": 50,
        "cheese_kg": Decimal(15),
        "cloths_per_cheese": 5,
        "power_watts": 0,
    },
    ("Kettle", MachineKind.PASTEURISER): {"power_watts": 2700, "bath_litres": Decimal(32), "bath_bottles": 28},
}


# Kilograms, invented: of machines, of one of each part by its name, and of empty boxes.
MACHINES_KG = {
    ("Heron", MachineKind.MILL): "47.5",
    ("Heron", MachineKind.PRESS): "38",
    ("Heron", MachineKind.PASTEURISER): "24",
    ("Otter", MachineKind.MILL): "31",
    ("Otter", MachineKind.PRESS): "27.5",
    ("Wren", MachineKind.MILL): "19",
    ("Wren", MachineKind.PRESS): "14.5",
    ("Kettle", MachineKind.PASTEURISER): "17",
}
PARTS_KG = {
    "Feed guard": "1.8",
    "Drive pin": "0.2",
    "Hopper": "4.2",
    "Trip switch": "0.6",
    "Mill lead": "3.4",
    "Extension lead": "6.1",
    "Pomace buckets": "1.1",
    "Cloths": "0.4",
    "Racks": "2.3",
    "Cheese former": "3",
    "Probe thermometer": "0.2",
}
BOXES_KG = {"rack crate": "2.7", "lead box": "1.9", "red tin, tied to the hopper": "0.3"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """The kits of the demonstration."""

    heron: Kit
    otter: Kit
    wren: Kit
    kettle: Kit


def build(*, by: Member, at: datetime) -> Fleet:
    """Two large kits, a small one without electricity, and a pasteuriser that travels alone."""
    depot = kits.add_depot(
        name="Old Goods Shed, Withyhurn",
        directions="Left of the station house. The key box is on the north door; ask the coordinator for its number.",
        by=by,
        at=at,
    )
    everything = [kind.value for kind in (MachineKind.MILL, MachineKind.PRESS, MachineKind.PASTEURISER)]
    heron = _kit(depot, "Heron", KitShape.SQUARE, everything, note="The large one, with the trailer.", by=by, at=at)
    otter = _kit(depot, "Otter", KitShape.ROUND, everything, note="The middle one; fits a van.", by=by, at=at)
    wren = _kit(
        depot, "Wren", KitShape.WEDGE, ["press"], note="Small press and hand mill, no electricity.", by=by, at=at
    )
    kettle = _kit(
        depot, "Kettle", KitShape.BAR, ["pasteuriser"], note="The second pasteuriser, lent by itself.", by=by, at=at
    )
    _hand_mill(wren, by=by, at=at)
    for kit in (heron, otter, wren, kettle):
        _stamp(kit, by=by, at=at)
        _figures(kit, by=by, at=at)
        _weigh(kit, by=by, at=at)
    for kit in (heron, kettle):
        pictures.give(kit, by=by, at=at)
    return Fleet(heron=heron, otter=otter, wren=wren, kettle=kettle)


def _kit(depot: Depot, name: str, shape: KitShape, machines: list[str], *, note: str, by: Member, at: datetime) -> Kit:
    kit = kits.add_kit(name=name, depot=depot, shape=shape, care_days=1, note=note, by=by, at=at)
    kits.add_starter_machines(kit=kit, choices=machines, by=by, at=at)
    return kit


def _hand_mill(kit: Kit, *, by: Member, at: datetime) -> None:
    mill = kits.add_machine(
        kit=kit,
        name="Wren hand mill",
        kind=MachineKind.MILL,
        caution="The drum cuts while it stands still. The guard stays on while anybody lifts or turns it. Two lift it.",
        by=by,
        at=at,
    )
    parts = [
        ("Drum guard", PartKind.GUARD, 1, "bolted on", "Both wing nuts tight; a hand cannot pass."),
        ("Crank", PartKind.VITAL, 1, "strapped to the frame", "Straight, its pin on the cord."),
        ("Wooden pusher", PartKind.ORDINARY, 1, "in the hopper", "No splinters."),
        ("Pomace buckets", PartKind.COUNTED, 2, "stacked under the mill", "Handles hold, clean."),
    ]
    for name, kind, count, packed_in, look_for in parts:
        kits.add_part(
            machine=mill,
            name=name,
            kind=kind.value,
            expected_count=count,
            packed_in=packed_in,
            look_for=look_for,
            by=by,
            at=at,
        )


def _figures(kit: Kit, *, by: Member, at: datetime) -> None:
    """What each machine does in an hour and draws, so that plans of a day go by it."""
    for machine in kit.machines.order_by("position", "pk"):
        facts = FIGURES[kit.name, machine.kind]
        kits.change_machine(machine=machine, by=by, at=at, **facts)


def _weigh(kit: Kit, *, by: Member, at: datetime) -> None:
    """An evening with the scales, on which not everything was weighed."""
    for machine in kit.machines.select_related("kit").order_by("position", "pk"):
        weights: dict[weighing.Weighed, Decimal | None] = {
            part: Decimal(PARTS_KG[part.name])
            for part in machine.parts.order_by("position", "pk")
            if part.name in PARTS_KG
        }
        for box in Code.objects.boxes_of([machine]).filter(box__in=BOXES_KG).order_by("pk"):
            weights[box] = Decimal(BOXES_KG[box.box])
        if own := MACHINES_KG.get((kit.name, MachineKind(machine.kind))):
            weights[machine] = Decimal(own)
        weighing.weigh(machine=machine, weights=weights, by=by, at=at)


def _stamp(kit: Kit, *, by: Member, at: datetime) -> None:
    """Stamp each part but the consumables with the kit's letter and a number, in the order of packing."""
    stamped = Part.objects.travelling().filter(machine__kit=kit).exclude(kind=PartKind.CONSUMABLE.value)
    for number, part in enumerate(stamped, start=1):
        kits.change_part(part=part, number=f"{kit.name[0]}{number}", by=by, at=at)
