"""The points of the briefing, in the project's own words. Raise `TEXT_VERSION` with any change of what they mean."""

from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class Point:
    """One thing to confirm: a key that stays, a heading, and a few sentences."""

    key: str
    title: str | Promise
    sentences: tuple[str | Promise, ...]


OWN: Final = "own"

POINTS: Final = (
    Point(
        "clothing",
        _("Clothing"),
        (
            _("Boots that grip on wet ground. Sleeves, cords and scarves that cannot be drawn in; long hair tied up."),
            _("Dry gloves for hot bottles. Gloves and goggles for sanitiser, as its label says."),
        ),
    ),
    Point(
        "water_and_electricity",
        _("Water and electricity"),
        (
            _("Every machine is plugged in behind a trip switch; press its button before each use, and it must trip."),
            _("Leads are unwound wholly and lie dry, joints off the ground. Wet hands touch no plug and no switch."),
            _("No jet of water towards a motor, a plug or a socket. A lead with a cut is not used, nor taped."),
        ),
    ),
    Point(
        "blades_and_guard",
        _("Blades and guard"),
        (
            _("The guard is on before anybody lifts, moves or starts the mill. Blades cut while they stand still."),
            _("Fruit goes in by the push stick, never by hand. Stuck? Pull the plug first, each time, and wait."),
            _("One person feeds the mill and stands by its switch. Children stay behind a line."),
        ),
    ),
    Point(
        "press",
        _("Press"),
        (
            _("It stands level and cannot tip. Hands stay out from under the plate; nobody leans over the screw."),
            _("Turn, wait until it runs, turn again. A handle is never made longer."),
        ),
    ),
    Point(
        "hot_water",
        _("Hot water and hot juice"),
        (
            _("A pasteuriser is never lifted, moved or left alone while it is warm. Water covers its element first."),
            _("Open the lid away from you. Bottles come out with dry gloves, onto dry wood, not into cold water."),
            _("Burnt? Cool running water at once and for long, then a doctor."),
        ),
    ),
    Point(
        "lifting",
        _("Lifting"),
        (
            _("Two people lift a machine, empty and with everything loose taken off. A full crate is a load for two."),
            _("Lift from the knees, close to the body. On a trailer it is strapped down, also for a short way."),
        ),
    ),
    Point(
        "hygiene",
        _("Hygiene"),
        (
            _("Wash your hands. Nobody who is ill handles food. No rotten fruit, and none from under grazing animals."),
            _("What touches juice is washed, sanitised and rinsed before and after. Containers are food grade."),
        ),
    ),
    Point(
        "stop",
        _("When in doubt"),
        (
            _("Anybody may stop the work. What is broken is not used: report it, and telephone the coordinator."),
            _("Local rules and the papers of a machine come first; so does what a competent person says."),
        ),
    ),
)
