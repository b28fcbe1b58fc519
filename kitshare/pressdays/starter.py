"""Kinds of container that most villages have, for a scheme that starts: to be changed, added to and retired."""

from decimal import Decimal
from typing import NamedTuple

from kitshare.rules.sizing_terms import FILL_FOR_HEATING


class StarterKind(NamedTuple):
    name: str
    litres: Decimal
    fill_fraction: Decimal
    reused_glass: bool
    usual_parts: int


# Common practice, no source: a bag swells and is filled full; fresh juice and must need room to be carried and to work.
FULL = Decimal("1")
CARRIED = Decimal("0.90")
FERMENTING = Decimal("0.85")

STARTER_KINDS = (
    StarterKind("0.75 L glass bottle, re-used", Decimal("0.75"), FILL_FOR_HEATING, True, 50),
    StarterKind("1 L glass bottle", Decimal("1"), FILL_FOR_HEATING, False, 0),
    StarterKind("3 L bag-in-box", Decimal("3"), FULL, False, 20),
    StarterKind("5 L bag-in-box", Decimal("5"), FULL, False, 20),
    StarterKind("10 L bucket with lid, for fresh juice", Decimal("10"), CARRIED, False, 10),
    StarterKind("25 L fermenter", Decimal("25"), FERMENTING, False, 0),
)
