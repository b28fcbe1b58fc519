"""When a row is due. Moments and days alone: no database, no clock.

A reminder goes at its moment. A round that did not run then is made up for by the next, but not at night; and of
several steps that have passed meanwhile only the latest is told.
"""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

from kitshare.bookings.times import moment_of

# What comes later than this after its moment was missed, and waits for the morning where it is night.
ON_TIME: Final = timedelta(hours=1)
MORNING: Final = time(7)
NIGHT: Final = time(22)


def moment_for(day: date, days: int, at: time, zone: tzinfo) -> datetime:
    """The moment, in UTC, so many days after a day (less than 0: before it) at a time of the zone's clock.

    There is one such moment, and only one, on nights when the clocks change too: see `times.moment_of`.
    """
    return moment_of(day + timedelta(days=days), at, zone)


def is_night(at: datetime, zone: tzinfo) -> bool:
    """Whether nobody should be reminded of what was missed."""
    return not MORNING <= at.astimezone(zone).time() < NIGHT


def latest_passed(moments: Sequence[datetime], at: datetime) -> int | None:
    """Which of some moments passed last, by its place; None where all are still to come."""
    passed = [place for place, moment in enumerate(moments) if moment <= at]
    return max(passed, key=lambda place: (moments[place], place)) if passed else None


def due_step(moments: Sequence[datetime], *, at: datetime, zone: tzinfo) -> int | None:
    """Which of some steps is to be told at a moment, by its place; None where none is, or it waits for the morning."""
    step = latest_passed(moments, at)
    if step is None or (at - moments[step] > ON_TIME and is_night(at, zone)):
        return None
    return step


def next_morning(at: datetime, zone: tzinfo) -> datetime:
    """The moment itself by day; at night the morning that follows, in the zone."""
    local = at.astimezone(zone)
    if not is_night(at, zone):
        return at
    day = local.date() + timedelta(days=1) if local.time() >= NIGHT else local.date()
    return moment_of(day, MORNING, zone)


def steps_within(
    moments: Sequence[datetime],
    *,
    since: datetime,
    until: datetime,
    zone: tzinfo,
    first: datetime,
    last: datetime,
) -> list[tuple[int, datetime]]:
    """Which steps rounds would tell from `first` to before `last`, and when.

    The thing is so from `since` until before `until`: what had passed before it was so is told then, as `due_step`
    says of each moment on its own.
    """
    if since >= last:
        return []
    told = []
    for place, moment in enumerate(moments):
        goes = max(moment, since)
        if goes - moment > ON_TIME:
            goes = next_morning(goes, zone)
        is_latest = latest_passed(moments, goes) == place
        if is_latest and first <= goes < last and goes < until:
            told.append((place, goes))
    return sorted(told, key=lambda one: one[1])
