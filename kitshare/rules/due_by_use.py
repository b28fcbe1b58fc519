"""When a service that goes by use falls due: after so many kilograms, hours or outings, and about when that will be.

How much use a machine takes between services is a policy that people type, by the maker's book; nothing here says it.
A forecast goes by how the machine was used while it was watched, counting season days alone. Outings are taken to come
at random with amounts that differ (a compound Poisson process), and its range holds both what is to come and how little
is known of the rate; both are taken as normal, which is near enough from a handful of outings on.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from math import ceil, floor, sqrt
from typing import Final

from kitshare.rules.periods import Period
from kitshare.rules.water import require_between

ENOUGH_OUTINGS: Final = 4
"""Outings that must have been seen before anything is forecast (our choice; below 3 the latest day is never)."""

NINE_IN_TEN_Z: Final = 1.6448536
"""How far nine in ten of a normal distribution reach, in standard deviations (handbook value; scipy in the tests)."""

MOST_USE: Final = Decimal(10_000_000)


class Measure(StrEnum):
    """What use is counted in."""

    KG = "kg"
    HOURS = "hours"
    OUTINGS = "outings"


MOST_EVERY: Final = {Measure.KG: 1_000_000, Measure.HOURS: 10_000, Measure.OUTINGS: 1_000}
"""The most that a service may go by, in each measure (our choice: beyond it, it is a slip); the least is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What a machine did since it was last serviced, and how much of that nobody recorded but was estimated.

    Amounts are 0 to 10,000,000, the estimated one no more than the whole. Raises `OutOfRange`.
    """

    amount: Decimal
    estimated: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        """Refuse what no machine did."""
        require_between("amount", float(self.amount), 0, float(MOST_USE))
        require_between("estimated", float(self.estimated), 0, float(self.amount))


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """Outings that were seen over some days of seasons: the amount of each, and whether any of it was estimated."""

    season_days: int
    amounts: tuple[Decimal, ...]
    with_estimates: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """The day on which it is expected to fall due, between `early` and `late` in nine cases of ten.

    A day is None where it lies past the seasons that are known.
    """

    early: date | None
    about: date | None
    late: date | None
    estimated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class First:
    """What makes it due first: a measure of use, or the date where `measure` is None. `on` is about the day."""

    measure: Measure | None
    on: date


def left(every: Decimal, used: Used) -> Decimal:
    """What may yet be done before it is due, 0 from when it is; `every` is more than 0, to 10,000,000.

    Raises `OutOfRange`.
    """
    require_between("every", float(every), 1e-3, float(MOST_USE))
    return max(Decimal(0), every - used.amount)


def forecast(to_go: Decimal, watched: Watched, *, seasons: Sequence[Period], today: date) -> Forecast | None:
    """When so much more will have been done, reckoned along the season days from today on.

    None where too few outings were seen to say. What is due already is due today. Raises `OutOfRange`.
    """
    require_between("to_go", float(to_go), 0, float(MOST_USE))
    if to_go == 0:
        return Forecast(early=today, about=today, late=today, estimated=watched.with_estimates)
    amounts = [float(amount) for amount in watched.amounts if amount > 0]
    if len(amounts) < ENOUGH_OUTINGS or watched.season_days < 1:
        return None
    early, about, late = _days_to(float(to_go), amounts, watched.season_days)
    return Forecast(
        early=_season_day(floor(early), seasons, today),
        about=_season_day(round(about), seasons, today),
        late=None if late is None else _season_day(ceil(late), seasons, today),
        estimated=watched.with_estimates,
    )


def first_due(due_on: date, by_use: Mapping[Measure, Forecast | None]) -> First:
    """Whichever comes first: the date, or the use that is expected to be reached before it."""
    found = [(each.about, measure) for measure, each in by_use.items() if each is not None and each.about is not None]
    about, measure = min(found, default=(due_on, None))
    return First(measure=measure, on=about) if about < due_on else First(measure=None, on=due_on)


def _days_to(to_go: float, amounts: Sequence[float], days: int) -> tuple[float, float, float | None]:
    """Season days until a sum is reached: early, expected, late (None where it may never be).

    In t days r t is done, with variance v t + t^2 v / days: v is the sum of squares a day, r the sum. The bounds are
    where r t, less or more z standard deviations, meets the sum: the roots of one quadratic, whose discriminant is
    written without the terms that cancel.
    """
    rate = sum(amounts) / days
    squares = sum(amount**2 for amount in amounts) / days
    z2 = NINE_IN_TEN_Z**2
    a = rate**2 - z2 * squares / days
    half_b = to_go * rate + z2 * squares / 2
    root = sqrt(z2 * squares * (to_go * rate + z2 * squares / 4 + to_go**2 / days))
    early = to_go**2 / (half_b + root)
    return early, to_go / rate, (half_b + root) / a if a > 0 else None


def _season_day(number: int, seasons: Sequence[Period], today: date) -> date | None:
    """The day so many season days after today; None past the last season known."""
    to_go = number
    for season in sorted(seasons, key=lambda each: each.start):
        if season.end <= today:
            continue
        start = max(season.start, today)
        length = (season.end - start).days
        if to_go < length:
            return date.fromordinal(start.toordinal() + to_go)
        to_go -= length
    return None
