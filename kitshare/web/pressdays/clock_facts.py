"""What the clock of a press day shows, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor
from typing import Any

from kitshare.bookings.models import Booking
from kitshare.people.models import Member, Scheme
from kitshare.pressdays import words
from kitshare.pressdays.clock import Hours, hours_of, why_not_change
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.pressdays.day_clock import DayClock, clock_of, machines_of
from kitshare.pressdays.planning import ahead_of
from kitshare.rules.daylight import WayOut
from kitshare.rules.heating import GLASS_SHOCK_K
from kitshare.rules.pressday import DayPlan, Station
from kitshare.web.pressdays import clock_words
from kitshare.web.pressdays.clock_chart import Chart, tall, tracks, wide
from kitshare.web.pressdays.clock_forms import HoursForm
from kitshare.web.pressdays.clock_heat import BathFacts, HeatedKind, bath_facts, heated_kinds, kind_names
from kitshare.web.pressdays.clock_words import day_and_time, how_long


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One station over the whole day."""

    name: str
    hands: str
    start: str
    end: str
    busy: str
    bottleneck: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow:
    """One batch at one station: so much fruit, or so much juice in so many containers of a kind."""

    station: str
    batch: int
    start: str
    end: str
    kg: float | None = None
    litres: float | None = None
    bottles: int = 0
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way out of a day that does not fit: which, and the time, the fruit or the juice that belongs to it."""

    way: WayOut
    enough: bool
    at: str = ""
    kg: float | None = None
    litres: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFacts:
    """A day that has a plan: its sentences, pictures and tables."""

    clock: DayClock
    plan: DayPlan
    finish: str
    cool_at: str
    start_by: str
    over_by: str
    bottleneck: str
    crew: list[str]
    ways: list[Way]
    baths: list[BathFacts]
    heated: list[HeatedKind]
    wide: Chart
    tall: Chart
    stations: list[StationRow]
    batches: list[BatchRow]
    waits: str
    shock_k: int = round(GLASS_SHOCK_K)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFacts:
    """The clock of a booking as one member sees it. Without a form it is only read, and `why_not` says why."""

    booking: Booking
    saved: ClockPlan | None
    hours: Hours | None
    day: DayFacts | None
    missing: list[str]
    as_usual: list[str]
    early: bool
    form: HoursForm | None
    why_not: str


def clock_facts(
    *, booking: Booking, member: Member, scheme: Scheme, typed: Mapping[str, Any] | None = None
) -> ClockFacts:
    """The clock by the saved hands and hours, else the usual ones, else (`typed`) what somebody is trying out."""
    saved_hours, saved = hours_of(booking)
    why_not = why_not_change(booking=booking, by=member)
    form = None if why_not else HoursForm(hours=saved_hours, saved=saved, data=typed)
    hours = form.hours if form and typed is not None else saved_hours
    clock = clock_of(ahead_of(booking, scheme=scheme), hours or saved_hours, machines_of(booking))
    one_night = (booking.back_on - booking.out_on).days == 1
    return ClockFacts(
        booking=booking,
        saved=saved,
        hours=hours,
        day=day_facts(clock, clock.plan) if hours and clock.plan else None,
        missing=clock_words.missing(clock.missing),
        as_usual=clock_words.as_usual(clock.as_usual),
        early=bool(hours and one_night and hours.starts_at < booking.out_time),
        form=form,
        why_not=why_not,
    )


def day_facts(clock: DayClock, plan: DayPlan) -> DayFacts:
    """The day in sentences, pictures and tables."""
    start = start_minute(clock.hours)
    end = float(clock.hours.minutes)
    found = tracks(plan)
    latest = start + plan.start_by(end)
    names = kind_names(clock)
    return DayFacts(
        clock=clock,
        plan=plan,
        finish=day_and_time(start + plan.finish),
        cool_at=day_and_time(start + plan.cool_at) if plan.cool_at is not None else "",
        start_by=day_and_time(floor(latest)) if latest >= 0 else "",
        over_by=how_long(clock.over.minutes_over) if clock.over else "",
        bottleneck=clock_words.bottleneck(plan),
        crew=clock_words.crew(plan),
        ways=_ways(clock, start),
        baths=[bath_facts(one, plan, names) for one in clock.baths] if clock.heated else [],
        heated=heated_kinds(clock) if not clock.heats_one_kind else [],
        wide=wide(found, start_minute=start, end_minutes=end),
        tall=tall(found, start_minute=start, end_minutes=end),
        stations=_stations(plan, start),
        batches=_batches(clock, plan, start),
        waits=how_long(plan.longest_wait) if plan.waits_long else "",
    )


def start_minute(hours: Hours) -> int:
    """The minute of the clock at which the day starts."""
    return 60 * hours.starts_at.hour + hours.starts_at.minute


def _ways(clock: DayClock, start: int) -> list[Way]:
    """The ways out, without a start on the day before, and without a bath that is reckoned with already."""
    found = []
    for option in clock.over.options if clock.over else ():
        amount: dict[str, Any] = {}
        match option.way:
            case WayOut.START_EARLIER:
                if start < option.amount:
                    continue
                amount["at"] = day_and_time(floor(start - option.amount))
            case WayOut.SECOND_PASTEURISER:
                if clock.hours.one_more_bath:
                    continue
                amount["at"] = day_and_time(start + option.amount)
            case WayOut.FREEZE:
                amount["litres"] = option.amount
            case _:
                amount["kg"] = option.amount
        found.append(Way(way=option.way, enough=option.enough, **amount))
    return found


def _stations(plan: DayPlan, start: int) -> list[StationRow]:
    rows = []
    for station in Station:
        bars = [bar for bar in plan.bars if bar.station is station]
        if bars:
            hands = plan.hands.get(station, 0.0)
            rows.append(
                StationRow(
                    name=words.station(station),
                    hands=clock_words.number(hands, 1),
                    start=day_and_time(start + min(bar.start for bar in bars), short=True),
                    end=day_and_time(start + max(bar.end for bar in bars), short=True),
                    busy=how_long(plan.busy.get(station, bars[-1].end - bars[0].start)),
                    bottleneck=station is plan.bottleneck,
                )
            )
    return rows


def _batches(clock: DayClock, plan: DayPlan, start: int) -> list[BatchRow]:
    names = kind_names(clock) if not clock.heats_one_kind else {}
    return [
        BatchRow(
            station=words.station(bar.station),
            batch=bar.batch,
            start=day_and_time(start + bar.start, short=True),
            end=day_and_time(start + bar.end, short=True),
            kg=None if bar.station is Station.HEAT else bar.amount,
            litres=bar.amount if bar.station is Station.HEAT else None,
            bottles=bar.containers,
            kind=names.get(bar.kind, ""),
        )
        for bar in plan.bars
        if bar.station is not Station.CLEAN
    ]
