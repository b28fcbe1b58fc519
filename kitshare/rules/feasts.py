"""Public holidays by country, and by part of a country where they differ there.

The days come from the `holidays` package, which follows each country's laws; moved and one-off days are known to it as
of its release. Which of them matter to a village the coordinator decides.
"""

from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import Final

import holidays
from holidays.registry import COUNTRIES

from kitshare.rules.periods import Period

SMALL_WORDS: Final = {"and", "of", "the"}


@lru_cache(maxsize=1)
def countries() -> dict[str, str]:
    """The two letters (ISO 3166-1) of each country with known holidays, and its English name, by name."""
    named = {codes[1]: _title(module) for module, codes in COUNTRIES.items()}
    return dict(sorted(named.items(), key=lambda pair: pair[1]))


@lru_cache(maxsize=64)
def parts_of(country: str) -> dict[str, str]:
    """The parts of a country that have holidays of their own: code and name, by name. Empty for an unknown country."""
    found = _class_of(country)
    if found is None:
        return {}
    names = {code: name for name, code in getattr(found, "subdivisions_aliases", {}).items()}
    pairs = ((code, names.get(code, code)) for code in found.subdivisions)
    return dict(sorted(pairs, key=lambda pair: pair[1]))


def place_in_words(country: str, part: str = "") -> str:
    """A country by its English name, with its part, such as "United Kingdom, Wales"."""
    names = [countries().get(country, country), *([parts_of(country).get(part, part)] if part else [])]
    return ", ".join(names)


def holidays_in(period: Period, *, country: str, part: str = "", language: str = "en-gb") -> dict[date, str]:
    """Each holiday in a period with its name, in the language if the package has it, else in the country's own.

    Empty for a country that is not known; a part that is not known is passed over.
    """
    years = range(period.start.year, period.last_day.year + 1)
    return {
        day: name for year in years for day, name in _of_year(country, part, year, language) if period.contains(day)
    }


@lru_cache(maxsize=128)
def _of_year(country: str, part: str, year: int, language: str) -> tuple[tuple[date, str], ...]:
    found = _class_of(country)
    if found is None:
        return ()
    subdivision = part if part in found.subdivisions else None
    # A language is always named: without one the package would take this machine's.
    spoken = _closest(language, found.supported_languages) or found.default_language
    days = found(years=year, subdiv=subdivision, expand=False, language=spoken)
    return tuple(sorted(days.items()))


def _class_of(country: str) -> type[holidays.HolidayBase] | None:
    for names in COUNTRIES.values():
        if names[1] == country:
            found: type[holidays.HolidayBase] = getattr(holidays, names[0])
            return found
    return None


def _closest(language: str, supported: tuple[str, ...]) -> str | None:
    """The package's name of a language such as "en-gb", or of the same language elsewhere; None if it has neither."""
    base, _dash, place = language.partition("-")
    exact = f"{base}_{place.upper()}" if place else base
    same: Iterator[str] = (name for name in supported if name.partition("_")[0] == base)
    return exact if exact in supported else next(same, None)


def _title(module: str) -> str:
    words = [word if word in SMALL_WORDS else word.capitalize() for word in module.split("_")]
    return " ".join([words[0].capitalize(), *words[1:]])
