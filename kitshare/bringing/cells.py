"""What single cells say: days, amounts, units, stages and lists of names, and how text is written so that no program
runs it."""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from datetime import date, time
from decimal import Decimal, InvalidOperation
from typing import Final

from django.utils import dates
from django.utils.translation import gettext as _

from kitshare.bookings.models import FruitUnitChoice, Stage

FIRST_YEAR: Final = 1990
LAST_YEAR: Final = 2100

ISO_DAY: Final = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?", re.ASCII)
IN_FIGURES: Final = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", re.ASCII)
IN_WORDS: Final = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)? ([^\W\d_]+)\.?,? (\d{4})", re.IGNORECASE)
MONTH_FIRST: Final = re.compile(r"([^\W\d_]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})", re.IGNORECASE)
WEEKDAY: Final = re.compile(r"([^\W\d_]+)\.?,? (.+)")

TIME: Final = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?", re.ASCII)

AMOUNT: Final = re.compile(r"(\d{1,9}(?:[.,]\d{1,6})?)\s*([^\W\d_]+(?:[_ ][^\W\d_]+)*)?\.?", re.ASCII)
UNCLEAR_COMMA: Final = re.compile(r"\d{1,3}(?:,\d{3})+", re.ASCII)

# What spreadsheets take for the beginning of a formula, behind spaces too; the wide forms are what some keyboards type.
LIVE: Final = re.compile(r"\s*[=+\-@|%\t\r\n＝＋－＠]")
NEUTRAL: Final = re.compile(r"'+\s*[=+\-@|%\t\r\n＝＋－＠]")


class NotUnderstood(Exception):
    """What a cell says means nothing, or may mean two things."""


def read_day(text: str) -> date:
    """A day: 2027-09-11, 11.9.2027, 11 Sep 2027, or with slashes where only one reading is possible.

    A weekday before it must fit. Raises NotUnderstood.
    """
    words = " ".join(text.split())
    weekday, rest = _weekday(words)
    found = list(dict.fromkeys(_days(rest)))
    fitting = [day for day in found if weekday is None or day.weekday() == weekday]
    if len(fitting) == 1:
        return fitting[0]
    if len(fitting) > 1:
        one, other = (f"{day:%Y-%m-%d}" for day in fitting[:2])
        raise NotUnderstood(_("“%(text)s” may be %(one)s or %(other)s.") % {"text": text, "one": one, "other": other})
    if found:
        actual = dates.WEEKDAYS[found[0].weekday()]
        raise NotUnderstood(_("“%(text)s”: that day is a %(actual)s.") % {"text": text, "actual": actual})
    raise NotUnderstood(_("“%(text)s” is no day: write it as 2027-09-11.") % {"text": _short(text)})


def check_year(day: date) -> date:
    """The day, unless its year is a slip of the pen. Raises NotUnderstood."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise NotUnderstood(_("Look at the year %(year)d.") % {"year": day.year})
    return day


def read_time(text: str) -> time:
    """A time of day, such as 9:30. Raises NotUnderstood."""
    sentence = _("“%(text)s” is no time of day: write it as 09:30.") % {"text": _short(text)}
    found = TIME.fullmatch(text.strip())
    if found is None:
        raise NotUnderstood(sentence)
    try:
        return time(int(found[1]), int(found[2]), int(found[3] or 0))
    except ValueError as error:
        raise NotUnderstood(sentence) from error


def read_amount(text: str) -> tuple[Decimal, str]:
    """An amount as people write it, 12.5 or 12,5 or “20 crates”, and its unit if it names one. Raises NotUnderstood."""
    typed = "".join(text.split(" ")) if re.fullmatch(r"[\d ]+", text) else text.strip()
    typed = typed.replace("\N{NO-BREAK SPACE}", "").replace("\N{NARROW NO-BREAK SPACE}", "")
    found = AMOUNT.fullmatch(typed)
    if found is None or UNCLEAR_COMMA.fullmatch(found[1]):
        raise NotUnderstood(_("“%(text)s” is no amount: write 1200 or 12.5.") % {"text": _short(text)})
    try:
        return Decimal(found[1].replace(",", ".")), read_unit(found[2]) if found[2] else ""
    except InvalidOperation as error:  # pragma: no cover - the pattern lets nothing of the kind through
        raise NotUnderstood(_("“%(text)s” is no amount: write 1200 or 12.5.") % {"text": _short(text)}) from error


def read_unit(text: str) -> str:
    """The unit of fruit that a word names, in one or in many, or by its short form. Raises NotUnderstood."""
    word = text.strip().casefold().rstrip(".")
    for unit in FruitUnitChoice:
        label = str(unit.label).casefold()
        if word in {unit.value, f"{unit.value}s", label, label.removesuffix("s")}:
            return unit.value
    units = ", ".join(str(unit.label) for unit in FruitUnitChoice)
    raise NotUnderstood(_("“%(text)s” is no unit of ours: %(units)s.") % {"text": _short(text), "units": units})


def read_stage(text: str) -> str:
    """The stage that a word names. Raises NotUnderstood."""
    word = " ".join(text.casefold().split())
    for stage in Stage:
        if word in {stage.value, str(stage.label).casefold()}:
            return stage.value
    stages = ", ".join(str(stage.label) for stage in Stage if stage != Stage.WAITING)
    raise NotUnderstood(_("“%(text)s” is no stage: %(stages)s.") % {"text": _short(text), "stages": stages})


def read_names(text: str) -> tuple[str, ...]:
    """The names of a list with semicolons; one that holds a semicolon itself stands between quotation marks."""
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=";", skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise NotUnderstood(_("“%(text)s”: a quotation mark is not closed.") % {"text": _short(text)}) from error
    return tuple(name.strip() for line in lines for name in line if name.strip())


def write_names(names: Iterable[str]) -> str:
    """The list that `read_names` reads."""
    return "; ".join(_quoted(name) for name in names)


def neutral(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe before it, where it needs one."""
    return f"'{text}" if LIVE.match(text) or NEUTRAL.match(text) else text


def as_meant(text: str) -> str:
    """The text before `neutral` put an apostrophe to it."""
    return text[1:] if NEUTRAL.match(text) else text


def _quoted(name: str) -> str:
    if re.search(r'[;"\r\n]', name) or name != name.strip():
        return '"' + name.replace('"', '""') + '"'
    return name


def _weekday(words: str) -> tuple[int | None, str]:
    """The weekday at the beginning, 0 for Monday, and the rest; or none, and all of it."""
    found = WEEKDAY.fullmatch(words)
    if found is None:
        return None, words
    word = found[1].casefold()
    for number in range(7):
        whole, short = str(dates.WEEKDAYS[number]).casefold(), str(dates.WEEKDAYS_ABBR[number]).casefold()
        if word == whole or (len(word) >= len(short) and whole.startswith(word)):
            return number, found[2]
    return None, words


def _days(words: str) -> Iterator[date]:
    """Each day that the words may mean."""
    numbers: list[tuple[int, int, int]] = []
    if found := ISO_DAY.fullmatch(words):
        numbers = [(int(found[1]), int(found[2]), int(found[3]))]
    elif found := IN_FIGURES.fullmatch(words):
        one, other, year = int(found[1]), int(found[3]), int(found[4])
        # With full stops the day comes first wherever days are written so; with strokes it may be either.
        numbers = [(year, other, one)] if found[2] == "." else [(year, other, one), (year, one, other)]
    elif found := IN_WORDS.fullmatch(words):
        numbers = [(int(found[3]), _month(found[2]), int(found[1]))]
    elif found := MONTH_FIRST.fullmatch(words):
        numbers = [(int(found[3]), _month(found[1]), int(found[2]))]
    for year, month, number in numbers:
        try:
            yield date(year, month, number)
        except ValueError:
            continue


def _month(word: str) -> int:
    """The month that a word or its beginning names; 0 for none."""
    typed = word.casefold()
    fitting = [number for number in range(1, 13) if str(dates.MONTHS[number]).casefold().startswith(typed)]
    return fitting[0] if len(typed) >= 3 and len(fitting) == 1 else 0


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."
