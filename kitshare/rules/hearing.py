"""When somebody is told: at once, after their quiet hours, or in their letter of the day.

Times of day are as the scheme's clocks show them, through both nights a year on which clocks are put on or back: a time
that is skipped is the moment of the skip, one that comes twice is meant the first time.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

ONE_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a member chose. Nobody who chose nothing waits for anything."""

    zone: tzinfo = UTC
    digest_at: time | None = None  # of one letter a day; None: each by itself
    quiet_from: time | None = None
    quiet_until: time | None = None  # earlier than `quiet_from`: it crosses midnight
    reminders: bool = True
    language: str = ""  # empty: that of the site


@dataclass(frozen=True, slots=True)
class Telling:
    """From when on a message may go; and the day of the letter that gathers it, if one does."""

    due_at: datetime
    digest_on: date | None = None


def when_to_tell(wishes: Wishes, *, at: datetime, alone: bool = False, needed_by: datetime | None = None) -> Telling:
    """When a message written at `at` goes out.

    `alone`: it goes by itself whatever was chosen. `needed_by`: afterwards it is of no use, so it waits for the digest
    or for the end of quiet hours only where half of the time is left then.
    """

    def leaves_time(moment: datetime) -> bool:
        return needed_by is None or needed_by - moment >= (needed_by - at) / 2

    if wishes.digest_at is not None and not alone:
        moment = next_showing(wishes.digest_at, wishes.zone, at=at)
        if leaves_time(moment):
            return Telling(moment, moment.astimezone(wishes.zone).date())
    moment = end_of_quiet(wishes, at=at)
    return Telling(moment if leaves_time(moment) else at)


def is_quiet(wishes: Wishes, *, at: datetime) -> bool:
    """Whether the clock shows a time within the quiet hours; their end is not one of them."""
    begins, ends = wishes.quiet_from, wishes.quiet_until
    if begins is None or ends is None:
        return False
    return covers(begins, ends, at.astimezone(wishes.zone).time())


def covers(begins: time, ends: time, clock: time) -> bool:
    """Whether a time of day lies from `begins` on and before `ends`, across midnight if need be."""
    if begins <= ends:
        return begins <= clock < ends
    return clock >= begins or clock < ends


def end_of_quiet(wishes: Wishes, *, at: datetime) -> datetime:
    """The first moment from `at` on that is not within the quiet hours."""
    if wishes.quiet_until is None or not is_quiet(wishes, at=at):
        return at
    return next_showing(wishes.quiet_until, wishes.zone, at=at)


def next_showing(clock: time, zone: tzinfo, *, at: datetime) -> datetime:
    """The first moment from `at` on at which the clocks of a zone come to show a time, or skip it."""
    today = at.astimezone(zone).date()
    moments = (showing(clock, day, zone, second=second) for day in (today, today + ONE_DAY) for second in (False, True))
    return min(moment for moment in moments if moment >= at)


def showing(clock: time, day: date, zone: tzinfo, *, second: bool = False) -> datetime:
    """The moment of a day at which the clock shows a time, the second of two if asked; or at which it skips it."""
    local = datetime.combine(day, clock.replace(fold=int(second)), tzinfo=zone)
    moment = local.astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None):
        return moment
    # The time does not exist. By the clock before the skip it lies after it, by the one after the skip before it.
    early, late = (local.replace(fold=fold).astimezone(UTC) for fold in (1, 0))
    offset = early.astimezone(zone).utcoffset()
    while late - early > timedelta(seconds=1):
        middle = early + (late - early) / 2
        if middle.astimezone(zone).utcoffset() == offset:
            early = middle
        else:
            late = middle
    return late.replace(microsecond=0)
