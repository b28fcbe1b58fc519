"""The labels that can be printed, kit by kit."""

from collections import Counter
from dataclasses import dataclass

from kitshare.kits.code_models import Code, box_key
from kitshare.kits.models import Kit, Machine, Part
from kitshare.web.codes.qr import Drawing, drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What is printed for one thing; `is_usual` where most people want it."""

    code: Code
    name: str
    what: str
    kind: str  # kit, machine or box
    is_usual: bool
    count: int = 0  # parts in a box

    @property
    def qr(self) -> Drawing:
        return drawn(self.code.text)


@dataclass(frozen=True, slots=True)
class KitLabels:
    """A kit with the labels of all that belongs to it: itself, each machine, each of its boxes."""

    kit: Kit
    labels: list[Label]


def labels_by_kit() -> list[KitLabels]:
    """Those of everything in use, in the order of packing. Five queries, whatever there is."""
    codes = {(code.kit_id, code.machine_id, code.box_key): code for code in Code.objects.all()}
    parts: Counter[tuple[int, str]] = Counter()
    for part in Part.objects.travelling().filter(machine__in=Machine.objects.in_use()):
        parts[part.machine_id, box_key(part.packed_in)] += 1
    kits = Kit.objects.in_use().with_machines().order_by("name", "pk")
    return [KitLabels(kit, _of_kit(kit, codes, parts)) for kit in kits]


def _of_kit(
    kit: Kit, codes: dict[tuple[int | None, int | None, str], Code], parts: Counter[tuple[int, str]]
) -> list[Label]:
    labels = []
    if code := codes.get((kit.pk, None, "")):
        labels.append(Label(code=code, name=kit.name, what="", kind="kit", is_usual=True))
    for machine in kit.machines_in_use:  # type: ignore[attr-defined]
        if code := codes.get((None, machine.pk, "")):
            what = kit.name
            labels.append(Label(code=code, name=machine.name, what=what, kind="machine", is_usual=True))
        for (of, place), count in parts.items():
            if of == machine.pk and place and (code := codes.get((None, machine.pk, place))):
                # What is bolted on needs no label; what holds several parts is mostly a box.
                labels.append(
                    Label(code=code, name=code.box, what=machine.name, kind="box", is_usual=count > 1, count=count)
                )
    return labels
