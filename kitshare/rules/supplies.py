"""What to bring besides fruit and containers: ascorbic acid, sanitiser, water, cloths, sacks, and the electricity.

Counted and bought amounts are `Decimal`. Doses are defaults that a scheme may change; the label on the tin and the
local food authority come first.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE, POMACE_SACK_KG, OutOfRange

ASCORBIC_G_PER_LITRE = Decimal("0.5")
"""500 mg in a litre, 5 g in 10 litres (A. Lea): too little browns the juice more than none."""

ASCORBIC_TEASPOON_G = Decimal(3)
"""A level teaspoon (National Center for Home Food Preservation); common practice is one in 10 litres, which is less."""


class Sanitiser(StrEnum):
    """What food-contact surfaces are rinsed with after washing."""

    CHLORINE = "chlorine"
    IODINE = "iodine"
    QUAT = "quat"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A strength in parts per million and the seconds it must stay wet."""

    ppm: Decimal
    seconds: int


# California Health and Safety Code, section 114099.6. Check it against the rules of the place.
CONTACT: Mapping[Sanitiser, Contact] = {
    Sanitiser.CHLORINE: Contact(ppm=Decimal(100), seconds=30),
    Sanitiser.IODINE: Contact(ppm=Decimal(25), seconds=60),
    Sanitiser.QUAT: Contact(ppm=Decimal(200), seconds=60),
}
RINSE_ABOVE_PPM = Decimal(200)
"""Stronger chlorine than this must be rinsed off with drinking water."""

HOT_WATER_C, HOT_WATER_SECONDS = 77, 30
"""Water this hot for this long does instead of a sanitiser (the same code)."""

BOIL_NEW_CLOTHS_MINUTES = 5
"""New cotton cloths are boiled first; all are washed after every use (Agriculture Canada leaflet 1406)."""

# Common practice and our choice, no source: the scheme sets its own.
WASH_LITRES_PER_KG = Decimal("0.5")
CLEAN_LITRES = Decimal(100)
SANITISER_LITRES = Decimal(20)
SPARE_CLOTHS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Dilution:
    """Millilitres of concentrate to make so many litres. `rinse` says whether it must be rinsed off."""

    concentrate_ml: Decimal
    litres: Decimal
    ppm: Decimal
    seconds: int
    rinse: bool


def dilution(
    sanitiser: Sanitiser, *, strength_percent: Decimal, litres: Decimal = SANITISER_LITRES, ppm: Decimal | None = None
) -> Dilution:
    """C1 V1 = C2 V2: concentrate of a strength (0.1 to 100 %) for litres of solution (0.1 to 2,000) at ppm (1 to
    1,000).

    A per cent is 10,000 parts per million. Raises `OutOfRange`, also where the concentrate is weaker than what is
    wanted.
    """
    contact = CONTACT[sanitiser]
    wanted = contact.ppm if ppm is None else ppm
    _require("ppm", wanted, Decimal(1), Decimal(1000))
    _require("strength_percent", strength_percent, max(Decimal("0.1"), wanted / 10_000), Decimal(100))
    _require("litres", litres, Decimal("0.1"), Decimal(2000))
    return Dilution(
        concentrate_ml=wanted * litres * 1000 / (strength_percent * 10_000),
        litres=litres,
        ppm=wanted,
        seconds=contact.seconds,
        rinse=sanitiser is Sanitiser.CHLORINE and wanted > RINSE_ABOVE_PPM,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ascorbic:
    """Grams of ascorbic acid for so much juice, and the level teaspoons that come nearest, rounded up."""

    grams: Decimal
    teaspoons: int


def ascorbic_acid(juice_litres: Decimal, *, grams_per_litre: Decimal = ASCORBIC_G_PER_LITRE) -> Ascorbic:
    """Ascorbic acid for 0 to 20,000 litres at a dose of 0 to 3 g/L. Raises `OutOfRange`."""
    _require("juice_litres", juice_litres, Decimal(0), Decimal(20_000))
    _require("grams_per_litre", grams_per_litre, Decimal(0), Decimal(3))
    grams = juice_litres * grams_per_litre
    return Ascorbic(grams=grams, teaspoons=math.ceil(grams / ASCORBIC_TEASPOON_G))


class PomaceWay(StrEnum):
    """Where spent pomace may go, the usual best first. Local rules on waste and feed come first."""

    BACK_TO_ORCHARD = "back_to_orchard"
    COMPOST = "compost"
    ANIMAL_FEED = "animal_feed"
    MUNICIPAL = "municipal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pomace:
    """Kilograms of spent pomace and the sacks for it."""

    kg: Decimal
    sacks: int


def pomace(fruit_kg: Decimal, juice_litres: Decimal, *, sack_kg: Decimal = POMACE_SACK_KG) -> Pomace:
    """What mass balance leaves: fruit less the juice, 0 to 20,000 kg, in sacks of 1 to 50 kg. Raises `OutOfRange`."""
    _require("fruit_kg", fruit_kg, Decimal(0), Decimal(20_000))
    _require("juice_litres", juice_litres, Decimal(0), fruit_kg / JUICE_KG_PER_LITRE)
    _require("sack_kg", sack_kg, Decimal(1), Decimal(50))
    left = fruit_kg - juice_litres * JUICE_KG_PER_LITRE
    return Pomace(kg=left, sacks=math.ceil(left / sack_kg))


def cloths(*, cloths_per_cheese: int, cheeses_at_once: int = 1) -> int:
    """Cloths for 1 to 20 cheeses being built or pressed at once (1 to 40 cloths each) and two spare ones."""
    _require("cloths_per_cheese", Decimal(cloths_per_cheese), Decimal(1), Decimal(40))
    _require("cheeses_at_once", Decimal(cheeses_at_once), Decimal(1), Decimal(20))
    return cloths_per_cheese * cheeses_at_once + SPARE_CLOTHS


def water_litres(
    fruit_kg: Decimal,
    *,
    bath_litres: Decimal = Decimal(0),
    wash_litres_per_kg: Decimal = WASH_LITRES_PER_KG,
    clean_litres: Decimal = CLEAN_LITRES,
) -> Decimal:
    """Drinking water for washing fruit, cleaning, sanitising and the bath. Raises `OutOfRange`."""
    _require("fruit_kg", fruit_kg, Decimal(0), Decimal(20_000))
    _require("bath_litres", bath_litres, Decimal(0), Decimal(5000))
    _require("wash_litres_per_kg", wash_litres_per_kg, Decimal(0), Decimal(20))
    _require("clean_litres", clean_litres, Decimal(0), Decimal(5000))
    return fruit_kg * wash_litres_per_kg + clean_litres + SANITISER_LITRES + bath_litres


@dataclass(frozen=True, slots=True, kw_only=True)
class Electricity:
    """Kilowatt-hours and what they cost, in the currency of the price."""

    kwh: Decimal
    cost: Decimal


def electricity(loads: Mapping[str, tuple[Decimal, Decimal]], *, price_per_kwh: Decimal) -> Electricity:
    """Energy of loads by name, each a pair of kilowatts (0 to 100) and hours (0 to 500), and its cost.

    Kilowatts are those of the plate, taken as drawn throughout, so this is rather too much. Raises `OutOfRange`.
    """
    _require("price_per_kwh", price_per_kwh, Decimal(0), Decimal(1_000_000))
    for name, (kw, hours) in loads.items():
        _require(f"{name}.kw", kw, Decimal(0), Decimal(100))
        _require(f"{name}.hours", hours, Decimal(0), Decimal(500))
    kwh = sum((kw * hours for kw, hours in loads.values()), Decimal(0))
    return Electricity(kwh=kwh, cost=kwh * price_per_kwh)


SULPHITE_DECLARED_FROM_MG_PER_KG = 10
"""Added sulphite of so much and more stands on the label (labelling rules for allergens, quoted)."""


def _require(field: str, value: Decimal, low: Decimal, high: Decimal) -> None:
    if not value.is_finite() or not low <= value <= high:
        raise OutOfRange(field=field, value=value, bounds=(low, high))
