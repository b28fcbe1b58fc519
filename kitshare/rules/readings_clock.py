"""Times as loggers write them: elapsed numbers, clock times, dated stamps. Made to run over 200,000
of them quickly.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum
from operator import ge, gt, itemgetter
from re import compile as pattern

from kitshare.rules.readings_refusals import LogProblem, LogRefused

DAY, HOUR = 1440.0, 60.0
CLOCK = pattern(r"^\d{1,2}:\d{2}(:\d{2}([.,]\d{1,6})?)?\s*([AaPp]\.?[Mm]\.?)?$")
DAY_FIRST = pattern(r"^(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})$")
YEAR_FIRST = pattern(r"^(\d{4})[./-](\d{1,2})[./-](\d{1,2})$")
SECONDS = pattern(r"^:[0-5]\d([.,]\d{1,6})?$")
ZONE = pattern(r"(Z|[+-]\d{2}:?\d{2})$")
LONGEST_UNMARKED_MINUTES = 720.0
"""Bare numbers that span more than this as minutes may as well be seconds: the person is asked (our
choice).
"""


class TimeForm(StrEnum):
    """How the times of a log were written."""

    MINUTES = "minutes"
    SECONDS = "seconds"
    HOURS = "hours"
    EPOCH = "epoch_seconds"
    CLOCK = "clock"
    DATED = "dated"


MINUTES_PER = {
    TimeForm.MINUTES: 1.0,
    TimeForm.SECONDS: 1 / 60,
    TimeForm.HOURS: 60.0,
    TimeForm.EPOCH: 1 / 60,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Minutes that no longer run backwards, and what had to be understood for that."""

    minutes: list[float]
    form: TimeForm
    assumed: bool = False
    midnights: int = 0
    clock_changes: int = 0


def looks_dated(cell: str) -> bool:
    """Whether a cell is a date, with or without a time after it."""
    head = cell.replace("T", " ", 1).split(" ", 1)[0]
    return bool(DAY_FIRST.match(head) or YEAR_FIRST.match(head))


def looks_clock(cell: str) -> bool:
    """Whether a cell is a time of day."""
    return bool(CLOCK.match(cell))


class _ClockMinutes(dict[str, float]):
    """Minutes of the day by text, worked out once for each text: a log of days repeats at most
    86,400 of them.
    """

    def __missing__(self, text: str) -> float:
        if not CLOCK.match(text):
            raise LogRefused(LogProblem.BAD_TIME, value=text)
        half = text[-4:].replace(".", "").strip().lower()[-2:] if text[-1] in "Mm." else ""
        digits = text.rstrip("AaPpMm. ") if half else text
        hour_text, rest = digits.split(":", 1)
        hour = int(hour_text)
        if half and not 1 <= hour <= 12:
            raise LogRefused(LogProblem.BAD_TIME, value=text)
        hour = hour % 12 + (12 if half == "pm" else 0) if half else hour
        try:
            at = time.fromisoformat(f"{hour:02}:{rest}")
        except ValueError:
            raise LogRefused(LogProblem.BAD_TIME, value=text) from None
        minutes = at.hour * 60 + at.minute + (at.second + at.microsecond / 1e6) / 60
        self[text] = minutes
        return minutes


class _Seconds(dict[str, float]):
    """Minutes by the text of the seconds, colon included."""

    def __missing__(self, text: str) -> float:
        if not SECONDS.match(text):
            raise LogRefused(LogProblem.BAD_TIME, value=text)
        self[text] = float(text[1:].replace(",", ".")) / 60
        return self[text]


class _AfterDate(_ClockMinutes):
    """Minutes of the day by text, the space or T between date and time included."""

    def __missing__(self, text: str) -> float:
        if text[:1] not in (" ", "T"):
            raise LogRefused(LogProblem.BAD_TIME, value=text)
        self[text] = super().__missing__(text[1:])
        return self[text]


class _DayNumbers(dict[str, float]):
    """Minutes of the calendar by date text, in one reading of day and month for the whole log."""

    def __init__(self, month_first: bool) -> None:
        super().__init__()
        self.month_first = month_first

    def __missing__(self, text: str) -> float:
        first, second, third = map(int, text.replace("/", "-").replace(".", "-").split("-"))
        if first > 999:
            year, month, day = first, second, third
        else:
            month, day = (first, second) if self.month_first else (second, first)
            year = third + 2000 if third < 100 else third
        try:
            self[text] = date(year, month, day).toordinal() * DAY
        except ValueError:
            raise LogRefused(LogProblem.BAD_TIME, value=text) from None
        return self[text]


def _day_numbers(distinct: Sequence[str], cells: Sequence[str]) -> _DayNumbers:
    """Choose how day and month stand in these dates; `cells` are where a bad one is looked for."""
    spans: list[tuple[float, _DayNumbers]] = []
    bad = next((text for text in distinct if not (DAY_FIRST.match(text) or YEAR_FIRST.match(text))), None)
    for month_first in (False, True) if bad is None else ():
        numbers = _DayNumbers(month_first)
        try:
            days = [numbers[text] for text in distinct]
        except LogRefused as refused:
            bad = refused.value
            continue
        spans.append((max(days) - min(days), numbers))
    if not spans:
        row = next(row for row, cell in enumerate(cells) if bad and cell.startswith(bad))
        raise LogRefused(LogProblem.BAD_TIME, value=bad or "", row=row)
    # 03/10 then 04/10: a press day lasts a day or two, so the reading of day and month with the shorter span is right.
    return min(spans, key=lambda span: span[0])[1]


def from_dated(cells: Sequence[str]) -> Times:
    """Read dated stamps: ISO 8601 with or without a zone, or day/month/year (or month first, if
    only that fits).
    """
    if ZONE.search(cells[0]) and ":" in cells[0]:
        return Times(minutes=_zoned(cells), form=TimeForm.DATED)
    quick = _regular_stamps(cells)
    if quick is not None:
        return _ironed(quick, TimeForm.DATED, False)
    halves = [text.replace("T", " ").split(" ", 1) for text in cells]
    bad = next((row for row, half in enumerate(halves) if len(half) != 2), None)
    if bad is not None:
        raise LogRefused(LogProblem.BAD_TIME, value=cells[bad], row=bad)
    return from_date_and_clock([half[0] for half in halves], [half[1] for half in halves])


def _zoned(cells: Sequence[str]) -> list[float]:
    minutes: list[float] = []
    for row, text in enumerate(cells):
        try:
            at = datetime.fromisoformat(text.replace(" +", "+"))
        except ValueError:
            raise LogRefused(LogProblem.BAD_TIME, value=text, row=row) from None
        if at.tzinfo is None:
            raise LogRefused(LogProblem.BAD_TIME, value=text, row=row)
        minutes.append(at.timestamp() / 60)
    return _ironed(minutes, TimeForm.EPOCH, False).minutes


def from_date_and_clock(dates: list[str], clocks: list[str]) -> Times:
    """Read a date and a time of day from two columns."""
    days = _day_numbers(list(dict.fromkeys(dates)), dates)
    return _ironed([days[d] + c for d, c in zip(dates, _clock_minutes(clocks), strict=True)], TimeForm.DATED, False)


def _regular_stamps(cells: Sequence[str]) -> list[float] | None:
    """Minutes of stamps with a date of ten characters and a time to the second, or None if one is otherwise.

    Dates, minutes and seconds repeat so often that a log of any length is looked up rather than worked out.
    """
    try:
        days = _day_numbers(list(set(map(itemgetter(slice(0, 10)), cells))), cells)
        hours, seconds = _AfterDate(), _Seconds()
        return [days[c[:10]] + hours[c[10:16]] + seconds[c[16:]] for c in cells]
    except LogRefused:
        return None


def _clock_minutes(clocks: Sequence[str]) -> list[float]:
    try:
        hours, seconds = _ClockMinutes(), _Seconds()
        return [hours[c[:5]] + seconds[c[5:]] for c in clocks]
    except LogRefused:
        pass
    known = _ClockMinutes()
    try:
        return list(map(known.__getitem__, clocks))
    except LogRefused as refused:
        refused.row = list(clocks).index(refused.value)
        raise


def from_clock(cells: Sequence[str]) -> Times:
    """Read times of day without a date: midnight is crossed where they fall by half a day or more."""
    minutes = _clock_minutes(cells)
    hours = {int(text.rstrip(":")) for text in set(map(itemgetter(slice(0, 2)), cells))}
    twelve_hour = cells[0][-1].isdigit() and min(hours) >= 1 and max(hours) <= 12
    return _ironed(minutes, TimeForm.CLOCK, twelve_hour)


def from_numbers(values: list[float], marked: TimeForm | None) -> Times:
    """Read elapsed numbers in the unit given, or in minutes if none is and they span no more than
    twelve hours.

    Raises `LogRefused` with TIME_UNIT_UNKNOWN otherwise: seconds read as minutes would make a hold
    of nothing.
    """
    form, assumed = marked, False
    if form is None:
        if values[0] > 1e8:
            form = TimeForm.EPOCH
            values = [v / 1000 for v in values] if values[0] > 1e11 else values
        elif max(values) - min(values) > LONGEST_UNMARKED_MINUTES:
            raise LogRefused(LogProblem.TIME_UNIT_UNKNOWN, value=f"{max(values) - min(values):g}")
        else:
            form, assumed = TimeForm.MINUTES, True
    scale = MINUTES_PER[form]
    return Times(
        minutes=_ironed([v * scale for v in values], form, False).minutes,
        form=form,
        assumed=assumed,
    )


def _ironed(minutes: list[float], form: TimeForm, twelve_hour: bool) -> Times:
    """Undo midnights and the autumn change of clocks; refuse any other step backwards, naming its
    row.
    """
    if not any(map(gt, minutes, minutes[1:])):
        return Times(minutes=minutes, form=form)
    straight = [minutes[0]]
    shift, midnights, changes = 0.0, 0, 0
    for row in range(1, len(minutes)):
        now = minutes[row] + shift
        back = straight[-1] - now
        if back > 0:
            if form is TimeForm.CLOCK and back >= DAY / 2:
                added, midnights = DAY, midnights + 1
            elif twelve_hour and back >= DAY / 2 - 30:
                added = DAY / 2
            elif form in (TimeForm.CLOCK, TimeForm.DATED) and HOUR - 10 <= back <= HOUR and not changes:
                added, changes = HOUR, 1
            else:
                raise LogRefused(LogProblem.BACKWARDS, value=f"{back:g}", row=row)
            shift, now = shift + added, now + added
        straight.append(now)
    return Times(minutes=straight, form=form, midnights=midnights, clock_changes=changes)


def merged(minutes: list[float], celsius: list[float]) -> tuple[list[float], list[float], int]:
    """Fold readings that carry the same stamp into one, keeping the coldest, and count how many
    were folded.
    """
    if not any(map(ge, minutes, minutes[1:])):
        return minutes, celsius, 0
    kept_minutes: list[float] = []
    kept_celsius: list[float] = []
    for minute, degree in zip(minutes, celsius, strict=True):
        if kept_minutes and minute <= kept_minutes[-1]:
            kept_celsius[-1] = min(kept_celsius[-1], degree)
        else:
            kept_minutes.append(minute)
            kept_celsius.append(degree)
    return kept_minutes, kept_celsius, len(minutes) - len(kept_minutes)
