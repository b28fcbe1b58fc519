"""The terms of sizing: known values and where they come from, and what is refused."""

from decimal import Decimal

# Litres of juice from a kilogram of fruit. Our choice within the published values: community apple
# pressing guide of The Orchard Project 0.50; Making Apple Cider, University of Georgia Cooperative
# Extension, 0.52 to 0.60; growers' pages on rack-and-cloth days 0.625.
YIELD_LOW = Decimal("0.45")
YIELD_EXPECTED = Decimal("0.55")
YIELD_HIGH = Decimal("0.70")

# Juice of 12 Bx at 20 C, computed: its specific gravity, 1.0484 by the sucrose table, times the
# density of water, 0.9982 kg/L.
JUICE_KG_PER_LITRE = Decimal("1.0465")

# Room left in a container. From 10 to 75 C juice expands by about 2.5 percent: leave 4 when heating.
# It expands by 9 percent when it freezes: leave 10.
FILL_FOR_HEATING = Decimal("0.96")
FILL_FOR_FREEZING = Decimal("0.90")

# Common practice, no source: for twenty re-used bottles filled another is chipped, will not come clean, or breaks. A
# scheme has a figure of its own, and learns (`breakage`).
BREAKAGE_ALLOWANCE = Decimal("0.05")

# Common practice, no source: one cap in twenty over, for those that will not close.
CAP_ALLOWANCE = Decimal("0.05")

# The lifting filter of the British Health and Safety Executive, as quoted elsewhere (check it against
# the edition in force): close to the body, between knuckle and elbow, 25 kg for men and 16 for women.
# A full sack should suit whoever is there. From the ground the filter gives only 10 and 7 kg: fill the
# sack on a bench, or lift it by two. Local rules come first.
LIFTING_GUIDE_KG = Decimal(16)
POMACE_SACK_KG = Decimal(15)


FRUIT_KG = (Decimal("0.001"), Decimal(20_000))
"""From a gram to more than a kit could press in weeks."""


class SizingRefused(ValueError):
    """What was entered cannot be sized. `field` names the entry, `kind_key` the container if any."""

    def __init__(self, *, field: str, value: Decimal | str, kind_key: str = "") -> None:
        super().__init__(f"{type(self).__name__}: {field} {value} {kind_key}".rstrip())
        self.field = field
        self.value = value
        self.kind_key = kind_key


class OutOfRange(SizingRefused):
    """Not a number from `least` to `most`."""

    def __init__(self, *, field: str, value: Decimal, bounds: tuple[Decimal, Decimal], kind_key: str = "") -> None:
        super().__init__(field=field, value=value, kind_key=kind_key)
        self.least, self.most = bounds


class FruitOutOfRange(OutOfRange):
    """No fruit at all, or more than a kit could press in weeks."""


class SharesDoNotSum(SizingRefused):
    """The shares of the containers do not sum to 1; `value` is their sum (0 when there are none)."""


class KindTwice(SizingRefused):
    """The same kind of container stands in the mix twice."""
