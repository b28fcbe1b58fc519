"""What pages show of a log and of the verdict on it, in words and plain values."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db.models import Count, Q
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from kitshare.bookings.models import Booking
from kitshare.people.models import Member
from kitshare.pressdays import words
from kitshare.pressdays.heat_judging import Curve
from kitshare.pressdays.heat_keeping import verdict_from_plain
from kitshare.pressdays.heat_models import HeatRecord
from kitshare.pressdays.heat_records import HEATED, why_not_record
from kitshare.rules.heat import PU_WANTED_HIGH, PU_WANTED_LOW, RESISTANCES
from kitshare.rules.heat_verdict import HeatVerdict, Verdict
from kitshare.rules.readings import ReadLog, TemperatureUnit, TimeForm
from kitshare.upkeep.reading_words import plain_number
from kitshare.web.heat.chart import Chart, draw

MOST_LOGS: Final = 12
ROWS_IN_TABLE: Final = 36
DELIMITERS: Final = {
    "\t": gettext_lazy("tabs"),
    ";": gettext_lazy("semicolons"),
    ",": gettext_lazy("commas"),
    "|": gettext_lazy("upright lines"),
    " ": gettext_lazy("spaces"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A fact under its name."""

    name: str
    words: str
    loud: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Killed:
    """What the heat did to one organism, and who says how it dies."""

    name: str
    amount: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The verdict on a batch, in words."""

    held: bool
    heading: str
    why: list[str]  # what stops it from being shown
    beside: list[str]  # what must be said of the probe and the juice
    remedies: list[str]
    numbers: list[Line]
    units: str  # of pasteurisation
    units_wanted: str
    killed: list[Killed]
    covered: bool
    chart: Chart
    table: list[tuple[str, str]]
    every: int  # how many points of the curve stand for one row of the table


def amount(value: float | Decimal | None, places: int = 1) -> str:
    """A number as the reader writes it."""
    return "" if value is None else str(number_format(f"{value:.{places}f}"))


def told_of(record: HeatRecord) -> Told:
    """The verdict that was told of a record."""
    verdict = verdict_from_plain(record.told)
    held = verdict.verdict == Verdict.HELD
    points = [(minute, celsius) for minute, celsius in record.curve["points"]]
    curve = Curve(points=tuple(points), gaps=tuple((start, end) for start, end in record.curve["gaps"]))
    longest = verdict.longest
    every = max(1, -(-len(points) // ROWS_IN_TABLE))
    return Told(
        held=held,
        heading=_("Held as recommended") if held else _("Not shown to be held"),
        why=[words.reason(one) for one in verdict.reasons if one.stops],
        beside=[words.reason(one) for one in verdict.reasons if not one.stops],
        remedies=[words.remedy(one) for one in verdict.remedies],
        numbers=_numbers(record, verdict),
        units=amount(verdict.lethality.pu_60_7, 0),
        units_wanted=f"{amount(PU_WANTED_LOW, 0)} – {amount(PU_WANTED_HIGH, 0)}",
        killed=_killed(verdict),
        covered=verdict.lethality.covered,
        chart=draw(curve, target_c=float(record.target_c), hold=(longest.start, longest.end) if longest else None),
        table=[(amount(minute), amount(celsius)) for minute, celsius in points[::every]],
        every=every,
    )


def _numbers(record: HeatRecord, verdict: HeatVerdict) -> list[Line]:
    wanted = {
        "target": plain_number(record.target_c),
        "minutes": plain_number(record.hold_minutes),
        "source": record.recommended_by,
    }
    lines = [Line(name=_("Recommended"), words=_("%(target)s °C for %(minutes)s minutes (%(source)s)") % wanted)]
    if verdict.reached_at is not None:
        said = _("%(minutes)s minutes after the first reading") % {"minutes": amount(verdict.reached_at)}
        lines.append(Line(name=_("Reached"), words=said))
    if verdict.longest:
        said = _("%(minutes)s minutes without a break") % {"minutes": amount(verdict.longest.minutes)}
        lines.append(Line(name=_("Held"), words=said))
        lines.append(Line(name=_("Coldest in the hold"), words=f"{amount(verdict.longest.lowest_c)} °C"))
    if verdict.highest_c is not None:
        lines.append(Line(name=_("Hottest reading"), words=f"{amount(verdict.highest_c)} °C"))
    if verdict.gaps:
        gaps = ngettext(
            "%(count)s pause of more than %(minutes)s minutes: not counted",
            "%(count)s pauses of more than %(minutes)s minutes: not counted",
            verdict.gaps,
        )
        said = gaps % {"count": verdict.gaps, "minutes": plain_number(record.longest_gap_minutes)}
        lines.append(Line(name=_("Gaps in the readings"), words=said))
    return lines


def _killed(verdict: HeatVerdict) -> list[Killed]:
    found = []
    for organism, logs in verdict.lethality.logs.items():
        said = amount(logs) if logs < MOST_LOGS else _("over %(most)s") % {"most": MOST_LOGS}
        found.append(Killed(name=words.organism(organism), amount=said, source=RESISTANCES[organism].source))
    return found


def found_lines(read: ReadLog) -> list[Line]:
    """How a text was understood, line by line; what a person should look at twice is loud."""
    found, log = read.found, read.log
    decimals = _("comma, such as 75,2") if found.decimal_comma else _("point, such as 75.2")
    lines = [
        Line(name=_("Readings"), words=number_format(found.rows, force_grouping=True)),
        Line(name=_("Columns apart by"), words=str(DELIMITERS.get(found.delimiter, found.delimiter))),
        Line(name=_("Decimals"), words=decimals),
        Line(name=_("Times"), words=_time_words(found.time_form, found.time_assumed), loud=found.time_assumed),
        Line(name=_("Temperatures"), words=_unit_words(found.unit, found.unit_marked), loud=not found.unit_marked),
        Line(name=_("From first to last"), words=_("%(minutes)s minutes") % {"minutes": amount(log.minutes[-1])}),
        Line(
            name=_("Coldest and hottest"),
            words=_("%(low)s and %(high)s °C, as the probe showed them")
            % {"low": amount(min(log.celsius)), "high": amount(max(log.celsius))},
        ),
    ]
    if found.column:
        lines.insert(4, Line(name=_("Column of the juice"), words=found.column))
    return lines + _surprises(read)


def _surprises(read: ReadLog) -> list[Line]:
    """What was seen through on the way: each is told, since it may be a mistake of the logger."""
    found = read.found
    surprises = (
        (
            found.repeated,
            _("Repeated times"),
            ngettext(
                "%(count)s reading has the time of another: the colder counts",
                "%(count)s readings have the time of another: the coldest counts",
                found.repeated,
            ),
        ),
        (found.midnights, _("Midnight"), _("crossed %(count)s times")),
        (found.clock_changes, _("Change of clocks"), _("the clock went back an hour, and that was put right")),
    )
    return [Line(name=name, words=said % {"count": count}, loud=True) for count, name, said in surprises if count]


def _unit_words(unit: TemperatureUnit, marked: bool) -> str:
    return f"°{unit.value}" if marked else _("taken for °%(unit)s so far: the log does not say") % {"unit": unit.value}


def _time_words(form: TimeForm, assumed: bool) -> str:
    said = {
        TimeForm.MINUTES: _("minutes"),
        TimeForm.SECONDS: _("seconds"),
        TimeForm.HOURS: _("hours"),
        TimeForm.EPOCH: _("seconds of the computer's clock"),
        TimeForm.CLOCK: _("times of day"),
        TimeForm.DATED: _("days and times of day"),
    }[form]
    return _("taken for %(unit)s") % {"unit": said} if assumed else said


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatLine:
    """What the page of a booking says of its batches."""

    count: int
    not_shown: int
    may_add: bool


def heat_line_of(booking: Booking, member: Member) -> HeatLine | None:
    """How many batches of a booking are recorded; None where nothing can have been heated."""
    if booking.stage not in HEATED:
        return None
    not_shown = Count("pk", filter=Q(verdict=Verdict.NOT_SHOWN.value))
    counted = HeatRecord.objects.standing().filter(booking=booking).aggregate(count=Count("pk"), not_shown=not_shown)
    return HeatLine(**counted, may_add=not why_not_record(booking=booking, by=member))
