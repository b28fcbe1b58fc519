"""How much one person, or two, may be asked to lift: guide values for a first look, not limits.

The filter of the British Health and Safety Executive, quoted: seen in texts that give it, not in its own guidance (L23,
INDG143). Check it against the edition in force; local rules come first. It is for an upright, steady lift close to the
body, without twisting, by healthy people, a few times an hour; within it most people are not hurt, which is no promise.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final


class Height(StrEnum):
    """Where the hands are, from the top down."""

    ABOVE_SHOULDER = "above_shoulder"
    SHOULDER_TO_ELBOW = "shoulder_to_elbow"
    ELBOW_TO_KNUCKLE = "elbow_to_knuckle"
    KNUCKLE_TO_LOWER_LEG = "knuckle_to_lower_leg"
    FLOOR = "floor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """Kilograms for one man and for one woman."""

    men_kg: int
    women_kg: int


# Close to the body.
FILTER: Final[Mapping[Height, Guide]] = {
    Height.ABOVE_SHOULDER: Guide(men_kg=10, women_kg=7),
    Height.SHOULDER_TO_ELBOW: Guide(men_kg=20, women_kg=13),
    Height.ELBOW_TO_KNUCKLE: Guide(men_kg=25, women_kg=16),
    Height.KNUCKLE_TO_LOWER_LEG: Guide(men_kg=20, women_kg=13),
    Height.FLOOR: Guide(men_kg=10, women_kg=7),
}

# Above this it is no load of a pressing yard.
MOST_KG: Final = Decimal(10_000)


class Within(StrEnum):
    """For whom a weight is within the guide: whoever is there, men alone, nobody."""

    ALL = "all"
    MEN_ONLY = "men_only"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """How a weight stands to the guide for one person and for two."""

    one: Within
    two: Within


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What things weigh together; at least so much where some of them were not weighed."""

    kg: Decimal
    is_all: bool

    @property
    def lift(self) -> Lift:
        """How what is known of it stands to the guide; it may be worse where something was not weighed."""
        return lift(min(self.kg, MOST_KG))


def together(weights: Iterable[tuple[Decimal | None, int]]) -> Load | None:
    """Add up what each weighs, 0 kg or more or not known, and how many of it there are; None where nothing is known."""
    listed = list(weights)
    known = [kg * count for kg, count in listed if kg is not None]
    if not known:
        return None
    return Load(kg=sum(known, Decimal(0)), is_all=len(known) == len(listed))


def for_two(one: Guide) -> Guide:
    """The guide for two people, in whole kilograms rounded down: two thirds of the sum of what each may lift.

    HSE guidance L23 on team handling, quoted. It asks for room, a grip for each and one who gives the word.
    """
    return Guide(men_kg=one.men_kg * 4 // 3, women_kg=one.women_kg * 4 // 3)


def lift(kg: Decimal, height: Height = Height.ELBOW_TO_KNUCKLE) -> Lift:
    """Compare a weight of 0 to 10,000 kg with the guide; a value met exactly is within. Raises ValueError."""
    if not (kg.is_finite() and 0 <= kg <= MOST_KG):
        raise ValueError(f"no such weight: {kg} kg")
    one = FILTER[height]
    return Lift(one=_within(kg, one), two=_within(kg, for_two(one)))


def _within(kg: Decimal, guide: Guide) -> Within:
    if kg <= guide.women_kg:
        return Within.ALL
    return Within.MEN_ONLY if kg <= guide.men_kg else Within.NONE
