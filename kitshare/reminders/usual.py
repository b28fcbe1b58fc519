"""The usual rows. Those that are on tell what was told before a scheme could choose, under the keys it was told by.

So a site that updates tells nothing twice and leaves nothing out. What is off waits for the coordinator.
"""

from datetime import time
from typing import Any, Final

from kitshare.reminders.models import Addressed, By, Kind, ReminderRow

SEVEN: Final = time(7)  # nobody is woken by one


def _days(kind: Kind, days: int, addressed: Addressed, *, is_on: bool = True) -> dict[str, Any]:
    return {"kind": kind, "days": days, "at": SEVEN, "addressed": addressed, "is_on": is_on}


USUAL: Final[dict[str, dict[str, Any]]] = {
    "briefing-7": _days(Kind.BRIEFING, -7, Addressed.BORROWER, is_on=False),
    "pickup-7": _days(Kind.PICKUP, -7, Addressed.BORROWER, is_on=False),
    "pickup-1": _days(Kind.PICKUP, -1, Addressed.BORROWER),
    "bring-3": _days(Kind.BRING, -3, Addressed.BORROWER, is_on=False),
    "relay-1": _days(Kind.RELAY, -1, Addressed.BORROWER),
    "return-0": _days(Kind.RETURN, 0, Addressed.BORROWER),
    "overdue-1": _days(Kind.OVERDUE, 1, Addressed.BOTH),
    "overdue-2": _days(Kind.OVERDUE, 2, Addressed.BOTH),
    "overdue-3": _days(Kind.OVERDUE, 3, Addressed.BOTH),
    "clean-down-1": _days(Kind.CLEAN_DOWN, 1, Addressed.BOTH, is_on=False),
    "offer-3": {"kind": Kind.OFFER, "hours": 3, "addressed": Addressed.BORROWER},
    "fault": {"kind": Kind.FAULT, "addressed": Addressed.BOTH},
    "test-first-14": _days(Kind.TEST_FIRST, -14, Addressed.BOTH),
    "late-kit": {"kind": Kind.LATE_KIT, "addressed": Addressed.BORROWER},
    "service-14": _days(Kind.SERVICE, -14, Addressed.MAINTAINERS),
    "service-overdue": _days(Kind.SERVICE, 1, Addressed.MAINTAINERS),
    "by-use": {"kind": Kind.BY_USE, "at": SEVEN, "addressed": Addressed.MAINTAINERS},
    "test-14": _days(Kind.TEST, -14, Addressed.MAINTAINERS),
    "test-overdue": _days(Kind.TEST, 1, Addressed.MAINTAINERS),
    "season-opens-14": _days(Kind.SEASON_OPENS, -14, Addressed.BORROWERS, is_on=False),
    "season-closes-14": _days(Kind.SEASON_CLOSES, -14, Addressed.BORROWERS, is_on=False),
    "lay-up-0": _days(Kind.LAY_UP, 0, Addressed.MAINTAINERS, is_on=False),
}

# How messages of these rows are known: `%s` is what they are about. Never change one: the outbox goes by it.
KEYS: Final = {
    "pickup-1": "pickup-tomorrow:%s",
    "relay-1": "relay-tomorrow:%s",
    "return-0": "return-due:%s",
    "overdue-1": "return-overdue:%s:1",
    "overdue-2": "return-overdue:%s:2",
    "overdue-3": "return-overdue:%s:3",
    "offer-3": "offer-runs-out:%s",
    "test-first-14": "booking-at-risk:%s",
    "service-14": "care-due:%s",
    "service-overdue": "care-overdue:%s",
    "by-use": "care-by-use:%s",
    "test-14": "care-due:%s",
    "test-overdue": "care-overdue:%s",
}


def usual_values(slug: str) -> dict[str, Any]:
    """All that a usual row says, in words of its fields."""
    return {"days": None, "at": None, "hours": None, "by": By.MAIL, "is_on": True} | USUAL[slug]


def key_of(row: ReminderRow, about: str) -> str:
    """How a message of this row about a thing is known, to whomever it goes."""
    known = KEYS.get(row.usual or "")
    return known % about if known else f"reminder:{row.usual or row.pk}:{about}"
