"""Parts that two machines of a kit share: which belongs to whom, and with which machine one travels."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime

from django.db.models import Q
from django.utils.text import get_text_list
from django.utils.translation import gettext as _

from kitshare.kits.models import Machine, Part, PartQuerySet
from kitshare.kits.saving import KitsRefused
from kitshare.kits.starter import STARTER_MACHINES
from kitshare.logbook.actions import write
from kitshare.people.models import Member


class ServesElsewhere(KitsRefused):
    """A part serves other machines of its own kit, and its own machine anyway."""

    def __init__(self, part: Part) -> None:
        super().__init__(_("%(part)s can also serve other machines of its own kit, and no others.") % {"part": part})


def serve(part: Part, machines: Collection[Machine] | None, *, by: Member, at: datetime) -> None:
    """Say which machines a part serves besides its own; None leaves it as it is. For deeds on parts."""
    before = set(part.also_serves.values_list("pk", flat=True))
    if machines is None or {machine.pk for machine in machines} == before:
        return
    if any(machine.kit_id != part.machine.kit_id or machine.pk == part.machine_id for machine in machines):
        raise ServesElsewhere(part)
    part.also_serves.set(machines)
    names = get_text_list([machine.name for machine in machines], _("and"))
    words = {"part": part, "machine": part.machine, "others": names}
    text = _("%(part)s of %(machine)s serves that machine alone now.")
    if names:
        text = _("%(part)s of %(machine)s also serves %(others)s.")
    write(deed="part_shared", text=text % words, about=[part, part.machine, *machines], by=by, at=at)


def share_starters(machines: Sequence[Machine]) -> None:
    """Let the parts of the starter list that are made for it serve the machines added with them."""
    of_kind = {machine.kind: machine for machine in machines}
    for starter in STARTER_MACHINES:
        for shared in starter.parts if starter.kind in of_kind else ():
            others = [of_kind[kind] for kind in shared.also_serves if kind in of_kind]
            if others:
                Part.objects.get(machine=of_kind[starter.kind], name=str(shared.name)).also_serves.set(others)


def parts_for(machines: Iterable[Machine]) -> PartQuerySet:
    """The parts in use of some machines, those of others that serve them among them, each once."""
    keys = [machine.pk for machine in machines]
    shared = Part.also_serves.through.objects.filter(machine__in=keys).values("part")
    found: PartQuerySet = Part.objects.travelling().filter(Q(machine__in=keys) | Q(pk__in=shared))
    return found.select_related("machine__kit").prefetch_related("also_serves")


def travels_with(part: Part, machines: Iterable[Machine]) -> Machine:
    """The machine with which a part goes: the first of these, in the order of packing, that it serves."""
    keys = served_keys(part)
    served = [machine for machine in machines if machine.pk in keys]
    return min(served, key=lambda machine: (machine.position, machine.pk), default=part.machine)


def served_keys(part: Part) -> set[int]:
    """The machines that a part serves, by key, its own among them."""
    return {part.machine_id, *(machine.pk for machine in part.also_serves.all())}
