"""Kinds of container that most villages have, for a scheme that starts: to be changed, added to and retired."""

from decimal import Decimal
from typing import NamedTuple

from kitshare.pressdays.models import MaterialChoice, UseChoice


class StarterKind(NamedTuple):
    """Litres to the brim, which is a little over what a kind is called by. Weights are common ones, from memory."""

    name: str
    litres: Decimal
    material: MaterialChoice
    usual_use: UseChoice
    usual_parts: int
    tare_kg: Decimal
    per_crate: int = 1
    reused_glass: bool = False
    capped: bool = True
    highest_fill_c: Decimal | None = None


# What a maker of bags for hot juice usually promises; a bag that is not made for it has no number, and then none here.
HOT_BAG_C = Decimal(85)

STARTER_KINDS = (
    StarterKind(
        "0.75 L glass bottle, re-used",
        Decimal("0.78"),
        MaterialChoice.GLASS,
        UseChoice.HEATED,
        50,
        Decimal("0.5"),
        per_crate=12,
        reused_glass=True,
    ),
    StarterKind(
        "1 L glass bottle", Decimal("1.03"), MaterialChoice.GLASS, UseChoice.HEATED, 0, Decimal("0.6"), per_crate=6
    ),
    StarterKind(
        "3 L bag-in-box",
        Decimal("3.15"),
        MaterialChoice.FILM,
        UseChoice.HEATED,
        20,
        Decimal("0.1"),
        per_crate=4,
        capped=False,
        highest_fill_c=HOT_BAG_C,
    ),
    StarterKind(
        "5 L bag-in-box",
        Decimal("5.25"),
        MaterialChoice.FILM,
        UseChoice.HEATED,
        20,
        Decimal("0.15"),
        per_crate=2,
        capped=False,
        highest_fill_c=HOT_BAG_C,
    ),
    StarterKind(
        "10 L bucket with lid, for fresh juice",
        Decimal("10"),
        MaterialChoice.PP,
        UseChoice.FRESH,
        10,
        Decimal("0.4"),
        capped=False,
    ),
    StarterKind(
        "25 L fermenter",
        Decimal("25"),
        MaterialChoice.HDPE,
        UseChoice.TO_FERMENT,
        0,
        Decimal("1.2"),
        capped=False,
    ),
)
