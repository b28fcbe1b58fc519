"""What a machine and its boxes weigh, as its page and its cards show it."""

from collections.abc import Iterable
from dataclasses import dataclass

from kitshare.kits.code_models import box_key
from kitshare.kits.models import Machine, Part
from kitshare.kits.weighing import Tares, box_load, machine_load, part_load, tares_of
from kitshare.web.lifting import Weight, weight_in_words


@dataclass(frozen=True, slots=True)
class WeightLine:
    """A machine or a box, and what it weighs."""

    name: str
    weight: Weight


def weights_of(machine: Machine, parts: Iterable[Part]) -> list[WeightLine]:
    """The machine, then its boxes in the order of packing, as far as anything of them was weighed. One query."""
    boxes: dict[str, list[Part]] = {}
    for part in parts:
        if box_key(part.packed_in):
            boxes.setdefault(box_key(part.packed_in), []).append(part)
    tares = tares_of([machine])
    lines = machines_weights([machine])
    for inside in boxes.values():
        lines += _of_box(machine, inside[0].packed_in, inside, tares)
    return lines


def machines_weights(machines: Iterable[Machine]) -> list[WeightLine]:
    """Each machine that somebody weighed."""
    found = [(machine.name, weight_in_words(machine_load(machine))) for machine in machines]
    return [WeightLine(name, weight) for name, weight in found if weight is not None]


def box_weights(machine: Machine, box: str, parts: Iterable[Part]) -> list[WeightLine]:
    """A box with all its parts, then those of its parts that are over the guide value for one person. One query."""
    inside = list(parts)
    lines = _of_box(machine, box, inside, tares_of([machine]))
    for part in inside:
        weight = weight_in_words(part_load(part))
        if weight is not None and weight.is_over:
            lines.append(WeightLine(part.name, weight))
    return lines


def _of_box(machine: Machine, box: str, parts: Iterable[Part], tares: Tares) -> list[WeightLine]:
    weight = weight_in_words(box_load(machine, box, [(part, part.expected_count) for part in parts], tares))
    return [] if weight is None else [WeightLine(box, weight)]
