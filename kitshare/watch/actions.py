"""Noting that a work of the clock was done."""

from datetime import datetime, timedelta
from typing import Final

from kitshare.engine import deed
from kitshare.watch.models import Round

# Several workers do the same work; one note in so long says as much as ten.
SELDOM: Final = timedelta(seconds=20)


@deed
def note_round(*, name: str, seconds: float, at: datetime) -> None:
    """Remember that this work was done now. A later note of another process stays."""
    facts = {"done_at": at, "seconds": seconds}
    _round, is_new = Round.objects.get_or_create(name=name, defaults=facts)
    if not is_new:
        Round.objects.filter(name=name, done_at__lt=at - SELDOM).update(**facts)
