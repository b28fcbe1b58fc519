"""The starter list: what commonly travels with a mill, a press and a pasteuriser, to be edited by each scheme.

Common practice, no source. Names, numbers and cautions are where a scheme begins, not what it must keep: the papers
that came with a machine, local rules and a competent person come before anything written here.
"""

from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import MachineKind
from kitshare.rules.checklists import PartKind

Words = str | Promise

NAME_LENGTH: Final = 60  # what a machine's name may have; a test holds it to the model


@dataclass(frozen=True, slots=True)
class StarterPart:
    """A part as the starter list suggests it."""

    name: Words
    kind: PartKind
    packed_in: Words
    look_for: Words
    caution: Words = ""
    expected_count: int = 1
    also_serves: tuple[MachineKind, ...] = ()  # other machines of the kit that share it


@dataclass(frozen=True, slots=True)
class StarterMachine:
    """A machine as the starter list suggests it, its parts in the order of packing."""

    kind: MachineKind
    name: Words
    caution: Words
    parts: tuple[StarterPart, ...]

    def name_in(self, kit: str) -> str:
        """Such as "Heron mill", so that bookings tell the mills apart; without the kit where that is too long."""
        name = f"{kit} {self.name}"
        return name if len(name) <= NAME_LENGTH else capfirst(str(self.name))


MILL: Final = StarterMachine(
    kind=MachineKind.MILL,
    name=_("mill"),
    caution=_(
        "The guard is on before anybody lifts, moves or starts the mill. Unplug before reaching in, each time."
        " Press the button of the trip switch before each use. Two people lift it. Local rules come first."
    ),
    parts=(
        StarterPart(
            name=_("Feed guard"),
            kind=PartKind.GUARD,
            packed_in=_("bolted on"),
            look_for=_("Both fixings tight, no crack, a hand cannot pass."),
            caution=_("Without it nobody lifts, moves or starts the mill."),
        ),
        StarterPart(
            name=_("Blade cover"),
            kind=PartKind.GUARD,
            packed_in=_("on the drum"),
            look_for=_("Covers the whole drum and cannot slip off on the road."),
            caution=_("The blades cut while they stand still. It comes off last and goes on first."),
        ),
        StarterPart(
            name=_("Trip switch"),
            kind=PartKind.GUARD,
            packed_in=_("lead box"),
            look_for=_("Its button trips it, and it sets again. Case whole and dry."),
            caution=_("Tested by its button before each use. A competent person tests it by instrument when due."),
        ),
        StarterPart(
            name=_("Drive pin"),
            kind=PartKind.VITAL,
            packed_in=_("red tin, tied to the hopper"),
            look_for=_("Straight, no burr, its clip on the cord."),
            caution=_("Unplug the mill before the pin goes in or comes out."),
        ),
        StarterPart(
            name=_("Hopper"),
            kind=PartKind.VITAL,
            packed_in=_("on top of the mill"),
            look_for=_("No split, no sharp edge, clean inside."),
        ),
        StarterPart(
            name=_("Mill lead"),
            kind=PartKind.VITAL,
            packed_in=_("lead box"),
            look_for=_("No cut or crushed place, plug and socket whole and dry, test label in date."),
            caution=_("Wet hands and electricity stay apart. Unwind it wholly, and keep joints off the ground."),
        ),
        StarterPart(
            name=_("Push stick"),
            kind=PartKind.ORDINARY,
            packed_in=_("inside the hopper"),
            look_for=_("Whole, and too short to touch the blades."),
            caution=_("Fruit is pushed with the stick, never by hand."),
        ),
        StarterPart(
            name=_("Pomace buckets"),
            kind=PartKind.COUNTED,
            expected_count=4,
            packed_in=_("stacked behind the mill"),
            look_for=_("Handles hold, no splits, clean."),
        ),
        StarterPart(
            name=_("Extension lead"),
            kind=PartKind.ORDINARY,
            packed_in=_("lead box"),
            look_for=_("No cut or crushed place, plug and socket whole and dry, test label in date."),
            caution=_(
                "Unwind it wholly: wound up it overheats. Keep its socket off wet ground, and use one at a time."
            ),
            also_serves=(MachineKind.PASTEURISER,),
        ),
    ),
)

PRESS: Final = StarterMachine(
    kind=MachineKind.PRESS,
    name=_("press"),
    caution=_(
        "Two people lift it. It stands level and cannot tip before anybody turns the screw."
        " Hands stay out from under the plate. Local rules come first."
    ),
    parts=(
        StarterPart(
            name=_("Press screw handle"),
            kind=PartKind.VITAL,
            packed_in=_("strapped to the frame"),
            look_for=_("Straight, its pin in place, turns without grinding."),
        ),
        StarterPart(
            name=_("Pressing plate"),
            kind=PartKind.VITAL,
            packed_in=_("in the frame"),
            look_for=_("No crack, no splinters, scrubbed and dry."),
            caution=_("Heavy: keep fingers out from under it."),
        ),
        StarterPart(
            name=_("Racks"),
            kind=PartKind.COUNTED,
            expected_count=11,
            packed_in=_("rack crate"),
            look_for=_("No broken slat, no mould, dry."),
        ),
        StarterPart(
            name=_("Cloths"),
            kind=PartKind.COUNTED,
            expected_count=12,
            packed_in=_("cloth sack"),
            look_for=_("No tears, no sour smell, washed and dry."),
        ),
        StarterPart(
            name=_("Cheese former"),
            kind=PartKind.ORDINARY,
            packed_in=_("rack crate"),
            look_for=_("Square, joints hold, clean."),
        ),
        StarterPart(
            name=_("Juice tray"),
            kind=PartKind.VITAL,
            packed_in=_("in the frame"),
            look_for=_("Spout clear, no rust, no loose coating."),
        ),
        StarterPart(
            name=_("Juice buckets"),
            kind=PartKind.COUNTED,
            expected_count=3,
            packed_in=_("stacked on the tray"),
            look_for=_("Food buckets only, with their lids, clean."),
        ),
        StarterPart(
            name=_("Water hose"),
            kind=PartKind.ORDINARY,
            packed_in=_("wash box"),
            look_for=_("For drinking water, both couplings on, drained."),
            caution=_("Keep the jet away from motors, plugs and sockets."),
        ),
        StarterPart(
            name=_("Scrubbing brushes"),
            kind=PartKind.COUNTED,
            expected_count=3,
            packed_in=_("wash box"),
            look_for=_("Bristles hold; none that are used on floors."),
        ),
        StarterPart(
            name=_("Sanitiser"),
            kind=PartKind.CONSUMABLE,
            packed_in=_("wash box"),
            look_for=_("Sealed, in date, label readable."),
            caution=_("Read its label: gloves and eye protection, and never mixed with another cleaner."),
        ),
        StarterPart(
            name=_("Ascorbic acid"),
            kind=PartKind.CONSUMABLE,
            packed_in=_("dry tin"),
            look_for=_("Food grade, dry, in date."),
        ),
    ),
)

PASTEURISER: Final = StarterMachine(
    kind=MachineKind.PASTEURISER,
    name=_("pasteuriser"),
    caution=_(
        "Hot water scalds: never lift or move it while it is warm. Water covers the element before it is switched on."
        " Wet hands and electricity stay apart; press the trip switch's button before each use."
        " Two people lift it, empty. Local rules come first."
    ),
    parts=(
        StarterPart(
            name=_("Low-water cut-off"),
            kind=PartKind.GUARD,
            packed_in=_("fixed inside"),
            look_for=_("Float moves freely and is not furred with lime."),
            caution=_("Without it nobody switches the pasteuriser on. A competent person tests it when due."),
        ),
        StarterPart(
            name=_("Trip switch"),
            kind=PartKind.GUARD,
            packed_in=_("lead box"),
            look_for=_("Its button trips it, and it sets again. Case whole and dry."),
            caution=_("Tested by its button before each use. A competent person tests it by instrument when due."),
        ),
        StarterPart(
            name=_("Pasteuriser lead"),
            kind=PartKind.VITAL,
            packed_in=_("lead box"),
            look_for=_("No cut or scorched place, plug and socket whole and dry, test label in date."),
            caution=_("Unwind it wholly. Unplug before filling, emptying or cleaning."),
        ),
        StarterPart(
            name=_("Probe thermometer"),
            kind=PartKind.VITAL,
            packed_in=_("probe case"),
            look_for=_("Reads, battery good, last probe check in date."),
            caution=_("Take it by the handle: the probe is hot after use."),
        ),
        StarterPart(
            name=_("Lid"),
            kind=PartKind.ORDINARY,
            packed_in=_("on the pasteuriser"),
            look_for=_("Handle tight, sits flat."),
            caution=_("Lift the far edge first: steam scalds."),
        ),
        StarterPart(
            name=_("Bottle rack"),
            kind=PartKind.VITAL,
            packed_in=_("inside the pasteuriser"),
            look_for=_("Feet on, no bent wire: bottles must not stand on the floor of the bath."),
        ),
        StarterPart(
            name=_("Drain tap"),
            kind=PartKind.VITAL,
            packed_in=_("screwed on"),
            look_for=_("Shuts without a drip, seal in place, handle not cracked."),
            caution=_("What runs out may scald. Drain cold, or into a bucket that stands firm."),
        ),
        StarterPart(
            name=_("Bottle gloves"),
            kind=PartKind.COUNTED,
            expected_count=2,
            packed_in=_("probe case"),
            look_for=_("A left and a right, no holes, dry."),
        ),
        StarterPart(
            name=_("Bottle caps"),
            kind=PartKind.CONSUMABLE,
            expected_count=100,
            packed_in=_("dry tin"),
            look_for=_("Clean, new, and of the size of the bottles."),
        ),
    ),
)

STARTER_MACHINES: Final = (MILL, PRESS, PASTEURISER)
