"""What machines, parts and boxes weigh: written down together, and added up."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db import models
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.code_models import TARE_BOUNDS, Code, box_key
from kitshare.kits.models import Machine, Part
from kitshare.kits.saving import KitsRefused
from kitshare.kits.weight_fields import WEIGHT_BOUNDS
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.rules.lifting import Load, together

Weighed = Machine | Part | Code
Tares = Mapping[tuple[int, str], Decimal]  # what empty boxes weigh, by machine and by box_key
STEP: Final = Decimal("0.1")


class NotWeighedSo(KitsRefused):
    """A weight that nothing here can have, or finer than anybody weighs here."""

    def __init__(self, most: Decimal) -> None:
        words = _("Give kilograms from 0 to %(most)s with one decimal at most, or leave it empty.")
        super().__init__(words % {"most": most})


class NotOfThisMachine(KitsRefused):
    """A part or a box of another machine."""

    def __init__(self) -> None:
        super().__init__(_("That belongs to another machine. Open the weights of that one."))


@deed
def weigh(
    *,
    machine: Machine,
    weights: Mapping[Weighed, Decimal | None],
    by: Member,
    at: datetime,
    seen: int | None = None,
) -> None:
    """Write down what a machine, its parts and its boxes weigh; None where that is not known any more.

    Raises KitsRefused, and ChangedMeanwhile where somebody weighed it after the line of the logbook that was `seen`.
    """
    for thing, kg in weights.items():
        owner = thing.pk if isinstance(thing, Machine) else thing.machine_id
        _check(thing, kg)
        if owner != machine.pk:
            raise NotOfThisMachine
    Machine.objects.select_for_update(no_key=True).get(pk=machine.pk)
    changed = {thing: kg for thing, kg in weights.items() if _differs(thing, kg)}
    if not changed:
        return
    logbook.check_unchanged(machine, seen=seen, by_deeds=["weighed"])
    for thing, kg in changed.items():
        type(thing)._default_manager.filter(pk=thing.pk).update(**{_field(thing): kg})
    told = "; ".join(_told(thing, kg) for thing, kg in changed.items())
    words = {"machine": machine.name, "weights": told}
    about: list[models.Model] = [machine, machine.kit, *(thing for thing in changed if isinstance(thing, Part))]
    text = _("Wrote down weights of %(machine)s: %(weights)s.") % words
    logbook.write(deed="weighed", text=text, about=about, by=by, at=at)


def _check(thing: Weighed, kg: Decimal | None) -> None:
    least, most = TARE_BOUNDS if isinstance(thing, Code) else WEIGHT_BOUNDS
    if kg is not None and not (kg.is_finite() and least <= kg <= most and kg % STEP == 0):
        raise NotWeighedSo(most)


def _field(thing: Weighed) -> str:
    return "tare_kg" if isinstance(thing, Code) else "weight_kg"


def _differs(thing: Weighed, kg: Decimal | None) -> bool:
    field = _field(thing)
    now: Decimal | None = type(thing)._default_manager.values_list(field, flat=True).get(pk=thing.pk)
    return now != kg


def _told(thing: Weighed, kg: Decimal | None) -> str:
    name = _("%(box)s, empty") % {"box": thing.box} if isinstance(thing, Code) else thing.name
    return f"{name} {_('%(kg)s kg') % {'kg': kg} if kg is not None else _('not known')}"


def tares_of(machines: Iterable[Machine]) -> Tares:
    """What the empty boxes of some machines weigh, as far as it is known. One query."""
    boxes = Code.objects.boxes_of(machines)
    return {(box.machine_id, box.box_key): box.tare_kg for box in boxes if box.machine_id and box.tare_kg is not None}


def box_load(machine: Machine, packed_in: str, parts: Iterable[tuple[Part, int]], tares: Tares) -> Load | None:
    """What a box weighs with so many of each of its parts in it, the box itself among it.

    None also for a single part whose box nobody weighed, such as one that is bolted on: its own weight says it.
    """
    parts = list(parts)
    tare = tares.get((machine.pk, box_key(packed_in)))
    if tare is None and len(parts) == 1:
        return None
    return together([(tare, 1), *((part.weight_kg, count) for part, count in parts)])


def part_load(part: Part) -> Load | None:
    """What one of a part weighs."""
    return together([(part.weight_kg, 1)])


def machine_load(machine: Machine) -> Load | None:
    """What a machine weighs."""
    return together([(machine.weight_kg, 1)])
