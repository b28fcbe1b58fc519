"""In which order the workbench shows what waits there, and why each thing stands where it does.

What stops a booking comes first, the soonest outing before the later; then safety tests, then services, each by its due
day; then the other faults, the worst first. The order is our choice, after common practice at a depot; no source.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, StrEnum
from typing import Final

from kitshare.rules.checklists import Severity
from kitshare.rules.servicing import is_overdue

NEVER: Final = date.max.toordinal()


class Task(StrEnum):
    """What kind of work waits."""

    FAULT = "fault"
    TEST = "test"
    SERVICE = "service"


class Rank(IntEnum):
    """Why something stands where it does, the most pressing first."""

    STOPS_A_BOOKING = 1
    TEST = 2
    SERVICE = 3
    REST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """One thing that waits to be done.

    `day` is when a fault was reported, or when a test or service falls due; `outings` are the days on which its
    machines are booked to go out, the soonest first. A fault has a severity, nothing else has.
    """

    task: Task
    day: date
    severity: Severity | None = None
    outings: Sequence[date] = ()


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a thing stands: things in order are in the order of their places."""

    rank: Rank
    first: int
    then: int
    last: int


def stopped_outing(waiting: Waiting, *, today: date) -> int | None:
    """Which of its outings it stops first as things stand, by its place among them; None where it stops none.

    A fault that stops use stops every outing; a safety test those on whose day it will be overdue. An outing whose day
    has passed is still to come, at the earliest today.
    """
    if waiting.task == Task.SERVICE or (waiting.task == Task.FAULT and waiting.severity != Severity.STOPS_USE):
        return None
    for place, day in enumerate(waiting.outings):
        if waiting.task == Task.FAULT or is_overdue(waiting.day, on=max(day, today)):
            return place
    return None


def place_of(waiting: Waiting, *, today: date) -> Place:
    """Where something stands on the workbench today."""
    day = waiting.day.toordinal()
    stopped = stopped_outing(waiting, today=today)
    if stopped is not None:
        return Place(Rank.STOPS_A_BOOKING, waiting.outings[stopped].toordinal(), int(waiting.task != Task.FAULT), day)
    if waiting.task != Task.FAULT:
        return Place(Rank.TEST if waiting.task == Task.TEST else Rank.SERVICE, day, _soonest(waiting.outings), day)
    severity = waiting.severity or Severity.LOOKS_ONLY
    return Place(Rank.REST, severity.rank, _soonest(waiting.outings), day)


def _soonest(outings: Iterable[date]) -> int:
    return next((day.toordinal() for day in outings), NEVER)
