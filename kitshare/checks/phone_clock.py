"""When a sheet was signed, by a phone whose clock may be wrong by minutes or by years."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

FURTHEST: Final = 2**31 - 1  # seconds, some 68 years


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """The moment by our clock, and by how many seconds the phone's was ahead of it."""

    at: datetime
    clock_ahead: int = 0


def when_signed(
    *, made_at: datetime | None, sent_at: datetime | None, received_at: datetime, not_before: datetime
) -> Signed:
    """Count back from now by how long the phone says that the sheet waited; all three moments with a zone.

    Only differences of the phone's own clock are used, so that it may be off by any amount. One that was set in between
    gives no usable wait: then the sheet counts as signed now, or no earlier than `not_before`.
    """
    if made_at is None:
        return Signed(at=received_at)
    if sent_at is None:
        sent_at = received_at
    ahead = int((sent_at - received_at).total_seconds())
    ahead = max(-FURTHEST, min(FURTHEST, ahead))
    waited = sent_at - made_at
    if waited < timedelta(0):
        return Signed(at=received_at, clock_ahead=ahead)
    longest = max(received_at - not_before, timedelta(0))
    return Signed(at=received_at - min(waited, longest), clock_ahead=ahead)
