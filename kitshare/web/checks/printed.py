"""The list on paper: one page for each kit, with its code."""

from dataclasses import dataclass, field
from typing import Final

from kitshare.kits.code_models import Code
from kitshare.kits.models import Kit
from kitshare.web.checks.sheets import CheckSheet, MachineOfSheet
from kitshare.web.codes.qr import Drawing, drawn
from kitshare.web.lifting import guide_in_words

FIT: Final = 32  # parts, with cautions as in the starter list


@dataclass
class PageOfKit:
    """What is printed for one kit. The code leads to the check of whoever scans it, also when the paper is old."""

    kit: Kit
    code: Code | None
    machines: list[MachineOfSheet] = field(default_factory=list)

    @property
    def has_weights(self) -> bool:
        return any(group.has_weights for group in self.machines)

    @property
    def lifting_guide(self) -> str:
        return guide_in_words()

    @property
    def is_dense(self) -> bool:
        """Whether it has more parts than fit on a page in the usual size."""
        return sum(len(tray.lines) for group in self.machines for tray in group.trays) > FIT

    @property
    def qr(self) -> Drawing | None:
        return drawn(self.code.text) if self.code else None


def pages(sheet: CheckSheet) -> list[PageOfKit]:
    """The machines of a sheet kit by kit; two queries."""
    machines = sheet.machines
    kits = {group.machine.kit_id: group.machine.kit for group in machines}
    codes = {code.kit_id: code for code in Code.objects.filter(kit__in=kits)}
    found = {key: PageOfKit(kit, codes.get(key)) for key, kit in kits.items()}
    for group in machines:
        found[group.machine.kit_id].machines.append(group)
    return list(found.values())
