"""Every quantity, formula and source of the sizing, in words that people read."""

from decimal import Decimal

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.rules.sizing import Line, Value
from kitshare.rules.sizing_terms import Formula, Quantity, Source

QUANTITY_WORDS = {
    Quantity.FRUIT_KG: lazy("fruit"),
    Quantity.YIELD_LOW: lazy("low yield"),
    Quantity.YIELD_EXPECTED: lazy("expected yield"),
    Quantity.YIELD_FOR_CONTAINERS: lazy("yield that containers are brought for"),
    Quantity.YIELD_HIGH: lazy("high yield"),
    Quantity.PLANNING_YIELD: lazy("yield planned for"),
    Quantity.JUICE_LOW_LITRES: lazy("juice, low"),
    Quantity.JUICE_EXPECTED_LITRES: lazy("juice, expected"),
    Quantity.JUICE_HIGH_LITRES: lazy("juice, high"),
    Quantity.JUICE_TO_HOLD_LITRES: lazy("juice that the containers hold"),
    Quantity.SHARE: lazy("share of the juice"),
    Quantity.CONTAINER_LITRES: lazy("full to the brim"),
    Quantity.FILL_FRACTION: lazy("how full it is filled"),
    Quantity.CONTAINERS_FILLED: lazy("filled"),
    Quantity.BREAKAGE_ALLOWANCE: lazy("allowance for breakage of re-used glass"),
    Quantity.CONTAINERS_TO_BRING: lazy("to bring"),
    Quantity.JUICE_KG_PER_LITRE: lazy("what a litre of juice weighs"),
    Quantity.POMACE_LEAST_KG: lazy("spent pomace, least"),
    Quantity.POMACE_EXPECTED_KG: lazy("spent pomace, expected"),
    Quantity.POMACE_MOST_KG: lazy("spent pomace, most"),
    Quantity.POMACE_SACK_KG: lazy("spent pomace in a sack"),
    Quantity.POMACE_SACKS: lazy("pomace sacks"),
}

LITRES = lazy("%(number)s L")
KILOGRAMS = lazy("%(number)s kg")
LITRES_A_KILOGRAM = lazy("%(number)s L/kg")
KILOGRAMS_A_LITRE = lazy("%(number)s kg/L")
UNIT_WORDS = {
    Quantity.FRUIT_KG: KILOGRAMS,
    Quantity.YIELD_LOW: LITRES_A_KILOGRAM,
    Quantity.YIELD_EXPECTED: LITRES_A_KILOGRAM,
    Quantity.YIELD_FOR_CONTAINERS: LITRES_A_KILOGRAM,
    Quantity.YIELD_HIGH: LITRES_A_KILOGRAM,
    Quantity.PLANNING_YIELD: LITRES_A_KILOGRAM,
    Quantity.JUICE_LOW_LITRES: LITRES,
    Quantity.JUICE_EXPECTED_LITRES: LITRES,
    Quantity.JUICE_HIGH_LITRES: LITRES,
    Quantity.JUICE_TO_HOLD_LITRES: LITRES,
    Quantity.CONTAINER_LITRES: LITRES,
    Quantity.JUICE_KG_PER_LITRE: KILOGRAMS_A_LITRE,
    Quantity.POMACE_LEAST_KG: KILOGRAMS,
    Quantity.POMACE_EXPECTED_KG: KILOGRAMS,
    Quantity.POMACE_MOST_KG: KILOGRAMS,
    Quantity.POMACE_SACK_KG: KILOGRAMS,
}
# Counts and parts of one: a bare number says it.
WITHOUT_UNIT = {
    Quantity.SHARE,
    Quantity.FILL_FRACTION,
    Quantity.CONTAINERS_FILLED,
    Quantity.BREAKAGE_ALLOWANCE,
    Quantity.CONTAINERS_TO_BRING,
    Quantity.POMACE_SACKS,
}
# Values that belong to one kind of container each.
OF_A_KIND = {Quantity.SHARE, Quantity.CONTAINER_LITRES, Quantity.FILL_FRACTION}

FORMULA_WORDS = {
    Formula.LARGER: lazy("the larger of %(a)s and %(b)s"),
    Formula.JUICE: lazy("%(a)s × %(b)s"),
    Formula.CONTAINERS: lazy("%(a)s × %(b)s ÷ (%(c)s × %(d)s), rounded up"),
    Formula.BREAKAGE: lazy("%(a)s × (1 + %(b)s), rounded up"),
    Formula.POMACE: lazy("%(a)s − %(b)s × %(c)s"),
    Formula.SACKS: lazy("%(a)s ÷ %(b)s, rounded up"),
}

SOURCE_WORDS = {
    Source.ENTERED: lazy("entered for this booking, or in the scheme’s settings"),
    Source.OUR_CHOICE: lazy("our own choice, with the published values below in view"),
    Source.COMMON_PRACTICE: lazy("common practice, no source"),
    Source.EXPANSION: lazy("computed: juice takes 2.5 in 100 more room at 75 °C, and 9 in 100 more when frozen"),
    Source.SUCROSE_TABLE: lazy("computed from a published sucrose table, for juice of 12 degrees Brix at 20 °C"),
    Source.LIFTING_FILTER: lazy(
        "our choice, under the British lifting filter as quoted elsewhere; check the edition in force"
    ),
    Source.DEFINITION: lazy("by definition"),
    Source.MASS_BALANCE: lazy("computed: what is not juice is left over"),
    Source.WORKED_OUT: lazy("worked out in a step before"),
}


def figure(amount: Decimal) -> str:
    """A number of the reckoning, to four decimals: enough to follow it by hand."""
    rounded = amount.quantize(Decimal("0.0001")).normalize()
    return formats.number_format(f"{rounded:f}", use_l10n=True, force_grouping=True)


def value_words(value: Value) -> str:
    """A number with its unit: "0.55 L/kg"."""
    number = figure(value.amount)
    if value.quantity in WITHOUT_UNIT:
        return number
    return UNIT_WORDS[value.quantity] % {"number": number}


def formula_words(line: Line) -> str:
    """How a line was worked out, with its own numbers: "400 kg × 0.55 L/kg"."""
    places = dict(zip("abcd", (value_words(value) for value in line.inputs), strict=False))
    return FORMULA_WORDS[line.formula] % places


def title_of(quantity: Quantity, kind_name: str) -> str:
    """What a number is, and of which kind of container: "filled: 5 L bag-in-box"."""
    if not kind_name:
        return str(QUANTITY_WORDS[quantity])
    return _("%(kind)s, %(what)s") % {"what": QUANTITY_WORDS[quantity], "kind": kind_name}
