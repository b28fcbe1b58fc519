"""Readings, limits and verdicts as people read them."""

from decimal import Decimal
from typing import Final

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.rules.instruments import MEASURED, Figure, Kind, Problem, ReadingRefused
from kitshare.upkeep.reading_models import ReadingBound, ReadingKind, SafetyReading

PROBLEMS: Final = {
    Problem.NO_FIGURE: gettext_lazy(
        "Write one number, such as %(example)s. Put > before it where the instrument could show no more."
    ),
    Problem.UNCLEAR_COMMA: gettext_lazy("Write thousands without a comma, such as 1200; or one decimal, such as 1,2."),
    Problem.WRONG_UNIT: gettext_lazy(
        "“%(typed)s” is not the unit here. %(kind)s is written in %(unit)s: reckon it over, or leave the unit out."
    ),
    Problem.OUT_OF_RANGE: gettext_lazy("No instrument shows that. Give a number from %(least)s to %(most)s %(unit)s."),
    Problem.TELLS_NOTHING: gettext_lazy(
        "The limit is %(limit)s %(unit)s, so this does not tell whether it is kept. Measure again in a finer range."
    ),
    Problem.HAS_NO_EARTH: gettext_lazy("Only a machine of class I has an earth to measure. Look at the class."),
    Problem.LEAD_NOT_SAID: gettext_lazy(
        "The limit depends on the lead: give its metres and its cross-section. Without a lead, 0 metres."
    ),
}
EXAMPLES: Final = {
    Kind.EARTH: Decimal("0.12"),
    Kind.INSULATION: Decimal(200),
    Kind.LEAKAGE: Decimal("0.4"),
    Kind.TRIP_RATED: Decimal(28),
    Kind.TRIP_FIVE: Decimal(18),
}


def plain_number(value: Decimal) -> str:
    """A number without the noughts at its end, by the reader's own comma or point."""
    return number_format(f"{value.normalize():f}")


def kind_in_words(kind: str) -> str:
    return str(ReadingKind(kind).label)


def figure_in_words(figure: Figure, unit: str) -> str:
    """Such as "> 200 MΩ"."""
    sign = ReadingBound(figure.bound.value).label
    return " ".join(part for part in (str(sign), plain_number(figure.value), unit) if part)


def refusal_in_words(refusal: ReadingRefused) -> str:
    """Why a reading is not taken so, and what to do."""
    measure, kind = MEASURED.get(refusal.kind), kind_in_words(refusal.kind)
    words = {"typed": refusal.unit, "kind": kind[:1].upper() + kind[1:]}
    if measure is not None:
        words |= {"unit": measure.unit.value, "example": plain_number(EXAMPLES[refusal.kind])}
        words |= {"least": plain_number(measure.least), "most": plain_number(measure.most)}
    if refusal.limit is not None:
        words["limit"] = plain_number(refusal.limit)
    return str(PROBLEMS[refusal.problem]) % words


def reading_in_words(reading: SafetyReading) -> str:
    """What was read, such as "0.42 Ω" or "not as it should be"."""
    if reading.figure is not None:
        return figure_in_words(reading.figure, reading.unit)
    return _("as it should be") if reading.as_it_should_be else _("not as it should be")


def limit_in_words(reading: SafetyReading) -> str:
    """Such as "at most 0.233 Ω"; empty for what has no limit."""
    if reading.limit_value is None:
        return ""
    words = {"limit": plain_number(reading.limit_value), "unit": reading.unit}
    return (_("at most %(limit)s %(unit)s") if reading.limit_at_most else _("at least %(limit)s %(unit)s")) % words


def verdict_in_words(reading: SafetyReading) -> str:
    """How a reading stands to its limit, and nothing more."""
    if reading.within is None:
        return _("compared with nothing")
    if reading.is_at_limit:
        return _("just at the limit")
    if reading.limit_value is None:
        return _("in order") if reading.within else _("not in order")
    return _("within") if reading.within else _("outside")


def finding_in_words(reading: SafetyReading) -> str:
    """A reading with its limit, in a few words: "earth continuity 0.42 Ω, at most 0.233 Ω"."""
    found = f"{kind_in_words(reading.kind)} {reading_in_words(reading)}"
    limit = limit_in_words(reading)
    return f"{found}, {limit}" if limit else found
