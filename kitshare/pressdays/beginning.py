"""The first day of a site as a whole: what `bookings.founding` begins, and the usual containers to plan with."""

from datetime import datetime

from kitshare.bookings import founding
from kitshare.engine import deed
from kitshare.pressdays import kinds as containers


@deed
def begin(*, beginning: founding.Beginning, at: datetime) -> founding.Founded:
    """Start the scheme with everything that its first village needs, or with nothing."""
    founded = founding.found(beginning=beginning, at=at)
    containers.add_starter_kinds(by=founded.coordinator, at=at)
    return founded
