"""Every change to what exists: depots, kits, machines and parts.

The facts of a thing are given by name. `add_...` takes the defaults of the model for those left out, `change_...`
leaves them as they are. Whether a machine may be retired while it is promised to somebody is asked further up, in
`kitshare.bookings.retiring`: nothing here knows of bookings.
"""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Unpack

from django.db import models
from django.db.models import Max
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.coding import mark_boxes
from kitshare.kits.models import Depot, Kit, Machine, Part
from kitshare.kits.saving import (
    DepotFacts,
    KitFacts,
    MachineFacts,
    NotInUse,
    PartFacts,
    UnknownStarter,
    change,
    save,
    swap_with_neighbour,
)
from kitshare.kits.sharing import serve, share_starters
from kitshare.kits.starter import STARTER_MACHINES, StarterMachine
from kitshare.logbook.actions import write
from kitshare.people.models import Member


def _next_position(rows: "models.QuerySet[Machine] | models.QuerySet[Part]") -> int:
    return int(rows.aggregate(last=Max("position"))["last"] or 0) + 1


def _about(part: Part) -> list[models.Model]:
    return [part, part.machine, part.machine.kit]


def _because(text: str, reason: str) -> str:
    return f"{text} {reason}" if reason else text


# Depots


@deed
def add_depot(*, by: Member, at: datetime, **facts: Unpack[DepotFacts]) -> Depot:
    """Add a place where kits live between outings."""
    depot = Depot(**facts)
    save(depot)
    write(deed="depot_added", text=_("Added the depot %(name)s.") % {"name": depot}, about=[depot], by=by, at=at)
    return depot


@deed
def change_depot(
    *, depot: Depot, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[DepotFacts]
) -> None:
    """Change what is known of a depot."""
    name = depot.name
    if changes := change(depot, facts, seen=seen, deed="depot_changed"):
        text = _("Changed the depot %(name)s: %(changes)s.") % {"name": name, "changes": changes}
        write(deed="depot_changed", text=text, about=[depot], by=by, at=at)


# Kits


@deed
def add_kit(*, by: Member, at: datetime, **facts: Unpack[KitFacts]) -> Kit:
    """Add a kit, as yet without machines."""
    kit = Kit(**facts)
    save(kit)
    write(deed="kit_added", text=_("Added the kit %(name)s.") % {"name": kit}, about=[kit, kit.depot], by=by, at=at)
    return kit


@deed
def change_kit(*, kit: Kit, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[KitFacts]) -> None:
    """Change what is known of a kit. Bookings made already keep the care days they were made with."""
    name = kit.name
    if changes := change(kit, facts, seen=seen, deed="kit_changed"):
        text = _("Changed the kit %(name)s: %(changes)s.") % {"name": name, "changes": changes}
        write(deed="kit_changed", text=text, about=[kit], by=by, at=at)


@deed
def retire_kit(*, kit: Kit, by: Member, at: datetime, today: date, reason: str = "") -> None:
    """Take a kit, and with it its machines, out of use. Everything known of it stays."""
    if Kit.objects.in_use().filter(pk=kit.pk).update(retired_on=today):
        text = _("Retired the kit %(name)s.") % {"name": kit}
        write(deed="kit_retired", text=_because(text, reason), about=[kit], by=by, at=at)
    kit.refresh_from_db()


@deed
def bring_back_kit(*, kit: Kit, by: Member, at: datetime) -> None:
    """Put a retired kit into use again, with those of its machines that were not retired by themselves."""
    if Kit.objects.filter(pk=kit.pk, retired_on__isnull=False).update(retired_on=None):
        text = _("Brought the kit %(name)s back into use.") % {"name": kit}
        write(deed="kit_brought_back", text=text, about=[kit], by=by, at=at)
    kit.refresh_from_db()


# Machines


@deed
def add_machine(*, kit: Kit, by: Member, at: datetime, **facts: Unpack[MachineFacts]) -> Machine:
    """Add a machine to a kit, last in the order of packing."""
    if kit.retired_on:
        raise NotInUse(kit.name)
    machine = Machine(kit=kit, position=_next_position(kit.machines.all()), **facts)
    save(machine)
    text = _("Added the machine %(name)s to %(kit)s.") % {"name": machine, "kit": kit}
    write(deed="machine_added", text=text, about=[machine, kit], by=by, at=at)
    return machine


@deed
def change_machine(
    *, machine: Machine, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[MachineFacts]
) -> None:
    """Change what is known of a machine."""
    name = machine.name
    if changes := change(machine, facts, seen=seen, deed="machine_changed"):
        text = _("Changed the machine %(name)s: %(changes)s.") % {"name": name, "changes": changes}
        write(deed="machine_changed", text=text, about=[machine, machine.kit], by=by, at=at)


@deed
def retire_machine(*, machine: Machine, by: Member, at: datetime, today: date, reason: str = "") -> None:
    """Take a machine out of use. Its parts and its history stay with it."""
    if Machine.objects.filter(pk=machine.pk, retired_on=None).update(retired_on=today):
        text = _("Retired the machine %(name)s.") % {"name": machine}
        write(deed="machine_retired", text=_because(text, reason), about=[machine, machine.kit], by=by, at=at)
    machine.refresh_from_db(fields=["retired_on"])


@deed
def bring_back_machine(*, machine: Machine, by: Member, at: datetime) -> None:
    """Put a retired machine into use again."""
    if Machine.objects.filter(pk=machine.pk, retired_on__isnull=False).update(retired_on=None):
        text = _("Brought the machine %(name)s back into use.") % {"name": machine}
        write(deed="machine_brought_back", text=text, about=[machine, machine.kit], by=by, at=at)
    machine.refresh_from_db(fields=["retired_on"])


# Parts


@deed
def add_part(*, machine: Machine, by: Member, at: datetime, **facts: Unpack[PartFacts]) -> Part:
    """Add a part to a machine, last in the order of packing."""
    if machine.retired_on:
        raise NotInUse(machine.name)
    also_serves = facts.pop("also_serves", None)
    part = Part(machine=machine, position=_next_position(machine.parts.all()), **facts)
    save(part)
    text = _("Added the part %(name)s to %(machine)s.") % {"name": part, "machine": machine}
    write(deed="part_added", text=text, about=_about(part), by=by, at=at)
    serve(part, also_serves, by=by, at=at)
    return part


@deed
def change_part(*, part: Part, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[PartFacts]) -> None:
    """Change what is known of a part."""
    also_serves = facts.pop("also_serves", None)
    name = part.name
    if changes := change(part, facts, seen=seen, deed="part_changed"):
        text = _("Changed the part %(name)s: %(changes)s.") % {"name": name, "changes": changes}
        write(deed="part_changed", text=text, about=_about(part), by=by, at=at)
    serve(part, also_serves, by=by, at=at)


@deed
def retire_part(*, part: Part, by: Member, at: datetime, today: date, reason: str = "") -> None:
    """Take a part off the checklists. What was ever seen of it stays, and a new part may take its name."""
    if Part.objects.filter(pk=part.pk, retired_on=None).update(retired_on=today):
        text = _("Retired the part %(name)s of %(machine)s.") % {"name": part, "machine": part.machine}
        write(deed="part_retired", text=_because(text, reason), about=_about(part), by=by, at=at)
    part.refresh_from_db(fields=["retired_on"])


@deed
def bring_back_part(*, part: Part, by: Member, at: datetime) -> None:
    """Put a retired part on the checklists again, unless another has taken its name."""
    part.refresh_from_db(fields=["retired_on"])
    if part.retired_on is None:
        return
    part.retired_on = None
    save(part, fields=["retired_on"])
    text = _("Brought the part %(name)s of %(machine)s back into use.") % {"name": part, "machine": part.machine}
    write(deed="part_brought_back", text=text, about=_about(part), by=by, at=at)


# Order of packing


@deed
def move_machine(*, machine: Machine, earlier: bool, by: Member, at: datetime) -> None:
    """Pack a machine one place earlier, or one place later."""
    if swap_with_neighbour(Machine.objects.filter(kit=machine.kit, retired_on=None), machine, earlier):
        text = _("Changed when %(name)s is packed.") % {"name": machine}
        write(deed="machine_moved", text=text, about=[machine, machine.kit], by=by, at=at)


@deed
def move_part(*, part: Part, earlier: bool, by: Member, at: datetime) -> None:
    """Pack a part one place earlier, or one place later."""
    if swap_with_neighbour(Part.objects.filter(machine=part.machine, retired_on=None), part, earlier):
        text = _("Changed when %(name)s is packed.") % {"name": part}
        write(deed="part_moved", text=text, about=_about(part), by=by, at=at)


# The starter list


@deed
def add_starter_machines(*, kit: Kit, choices: Iterable[str], by: Member, at: datetime) -> list[Machine]:
    """Add machines of the starter list with all their parts, in the list's order; `choices` are machine kinds."""
    chosen = set(choices)
    for unknown in sorted(chosen - {starter.kind.value for starter in STARTER_MACHINES}):
        raise UnknownStarter(unknown)
    if kit.retired_on:
        raise NotInUse(kit.name)
    starters = [starter for starter in STARTER_MACHINES if starter.kind.value in chosen]
    added = [_add_starter(kit, starter, by=by, at=at) for starter in starters]
    share_starters(added)
    return added


def _add_starter(kit: Kit, starter: StarterMachine, *, by: Member, at: datetime) -> Machine:
    machine = Machine(
        kit=kit,
        name=starter.name_in(kit.name),
        kind=starter.kind.value,
        caution=str(starter.caution),
        position=_next_position(kit.machines.all()),
    )
    save(machine)
    parts = Part.objects.bulk_create(
        Part(
            machine=machine,
            name=str(part.name),
            kind=part.kind.value,
            expected_count=part.expected_count,
            packed_in=str(part.packed_in),
            caution=str(part.caution),
            look_for=str(part.look_for),
            position=position,
        )
        for position, part in enumerate(starter.parts, start=1)
    )
    mark_boxes(machine)
    text = _("Added the machine %(name)s to %(kit)s, with %(count)s parts of the starter list.")
    words = {"name": machine, "kit": kit, "count": len(parts)}
    write(deed="starter_machine_added", text=text % words, about=[machine, kit, *parts], by=by, at=at)
    return machine
