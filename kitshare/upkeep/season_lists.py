"""Lists to begin with for a season's start and end, by kind of machine: offered, to be changed to what one has.

Common practice at a pressing yard, no source. The maker's book and local rules come before them.
"""

from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine, MachineKind
from kitshare.upkeep.season_models import Occasion

PLUG: Final = _(
    "Look over plug, lead and switch with the plug out; what is cracked or loose goes to a competent person."
)
LISTS: Final[dict[tuple[str, str], list[Promise]]] = {
    (MachineKind.MILL, Occasion.LAY_UP): [
        _("Unplug it, wait until it stands still, and clean hopper, blades and chute. Blades cut: wear gloves."),
        _("Dry it fully; wipe bare steel with food-grade oil."),
        _("Note what is worn and report it as a fault, so that it is mended before spring."),
        _("Store it dry, covered, guard fitted, where nobody can start it; lift it with two."),
    ],
    (MachineKind.MILL, Occasion.START): [
        _("With the plug out, look at blades, drive pin and hopper; report what is worn or missing."),
        _("See that the guard is fitted and that the cut-off stops it."),
        PLUG,
        _("Wash off the oil with hot water and detergent, and rinse."),
        _("Run it empty for a minute with the guard on, everybody clear; listen and look."),
    ],
    (MachineKind.PRESS, Occasion.LAY_UP): [
        _("Take all pressure off. Scrub basket, racks, tray and frame; rinse."),
        _("Wash cloths, boil or hot-wash them, dry them fully; set torn ones aside."),
        _("Clean and grease spindle or jack with food-grade grease."),
        _("Stand wood to dry out of the sun; store it where air reaches it. Lift with two."),
    ],
    (MachineKind.PRESS, Occasion.START): [
        _("Look over frame, welds, spindle or jack and pins for cracks and bends; report what is doubtful."),
        _("Count cloths and racks, and look for tears and splinters."),
        _("Scrub what touches juice, rinse with hot water."),
        _("Press once with an empty stack, hands out of it; see that it moves evenly and lets go."),
    ],
    (MachineKind.PASTEURISER, Occasion.LAY_UP): [
        _("Unplug it and let it cool before you empty it: hot water scalds."),
        _("Remove scale by the maker's book, never mixing cleaners; rinse well."),
        _("Drain it fully, taps open, and dry it: frost bursts what holds water."),
        _("Store it upright under cover, lead coiled off the floor."),
    ],
    (MachineKind.PASTEURISER, Occasion.START): [
        PLUG,
        _("See that its tests are recorded and in date: electrical, trip switch, probe."),
        _("Fill it with cold water and look for leaks before it is switched on."),
        _("Heat it to working heat and see that the thermostat holds; keep children away, hot water scalds."),
        _("Put its probe in crushed ice and in boiling water, and record what it read."),
    ],
    (MachineKind.OTHER, Occasion.LAY_UP): [
        _("Unplug it, clean it, dry it."),
        _("Report what is worn or missing."),
        _("Store it dry and covered; lift it with two."),
    ],
    (MachineKind.OTHER, Occasion.START): [
        PLUG,
        _("Look over guards and moving parts with the plug out; report what is worn or missing."),
        _("Wash what touches juice, and try it once with everybody clear."),
    ],
}


def list_to_begin_with(machine: Machine, occasion: Occasion) -> list[str]:
    """The tasks offered for a kind of machine, in order."""
    return [str(text) for text in LISTS[(machine.kind, occasion)]]
