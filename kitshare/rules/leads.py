"""Flexible leads: what they resist, and how much voltage is lost along them.

The figures are quoted: seen in texts that name the standards, not in the standards themselves. Check them against the
edition in force before you rely on one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from kitshare.rules.sizing_terms import OutOfRange

# Ohms of a kilometre of conductor at 20 C, class 5 (flexible), by cross-section in mm2: IEC 60228, quoted; that of 1.25
# is from memory.
OHM_PER_KM: Final[Mapping[Decimal, Decimal]] = {
    Decimal("0.75"): Decimal("26.0"),
    Decimal("1.0"): Decimal("19.5"),
    Decimal("1.25"): Decimal("15.6"),
    Decimal("1.5"): Decimal("13.3"),
    Decimal("2.5"): Decimal("7.98"),
    Decimal("4.0"): Decimal("4.95"),
}

# Millivolts lost for an ampere and a metre of flexible lead, there and back, warm: BS 7671, table 4F3B, quoted. Tables
# for fixed wiring differ and are not for leads.
MILLIVOLTS_PER_AMP_METRE: Final[Mapping[Decimal, Decimal]] = {
    Decimal("0.75"): Decimal(62),
    Decimal("1.0"): Decimal(46),
    Decimal("1.25"): Decimal(37),
    Decimal("1.5"): Decimal(32),
    Decimal("2.5"): Decimal(19),
    Decimal("4.0"): Decimal(12),
}

LONGEST_M: Final = Decimal(200)

# How long a lead may be without a 30 mA trip switch before it: IET code of practice, quoted.
LONGEST_WITHOUT_TRIP_SWITCH_M: Final[Mapping[Decimal, Decimal]] = {
    Decimal("1.25"): Decimal(12),
    Decimal("1.5"): Decimal(15),
    Decimal("2.5"): Decimal(25),
}


class CrossSectionUnknown(ValueError):
    """No table here has this cross-section, in mm2."""

    def __init__(self, mm2: Decimal) -> None:
        super().__init__(f"no figures for a lead of {mm2} mm2")
        self.mm2 = mm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """A flexible lead of 0 to 200 m and a cross-section in mm2 that the tables have.

    Length 0 stands for a machine whose earth is met without a lead. Raises `OutOfRange` and `CrossSectionUnknown`.
    """

    length_m: Decimal
    mm2: Decimal

    def __post_init__(self) -> None:
        """Refuse what no table answers."""
        if not (self.length_m.is_finite() and 0 <= self.length_m <= LONGEST_M):
            raise OutOfRange(field="length_m", value=self.length_m, bounds=(Decimal(0), LONGEST_M))
        if self.mm2 not in OHM_PER_KM:
            raise CrossSectionUnknown(self.mm2)

    @property
    def ohm(self) -> Decimal:
        """Resistance of one conductor from end to end at 20 C."""
        return OHM_PER_KM[self.mm2] * self.length_m / 1000

    def volts_lost(self, amps: Decimal) -> Decimal:
        """Volts lost at a current of 0 to 10,000 A, in both conductors, warm. Raises `OutOfRange`."""
        if not (amps.is_finite() and 0 <= amps <= 10_000):
            raise OutOfRange(field="amps", value=amps, bounds=(Decimal(0), Decimal(10_000)))
        return MILLIVOLTS_PER_AMP_METRE[self.mm2] * amps * self.length_m / 1000
