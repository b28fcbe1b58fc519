"""Which seasons a shelf's record covers, and from which day on what was used up belongs to them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from kitshare.rules.periods import Period

MOST_SEASONS: Final = 10
"""Older use says little of the scheme as it is now (our choice)."""

USUAL_SEASON_DAYS: Final = 90
"""Where no season is known: common practice in apple country is September to November, no source."""

SHORTEST_SEASON_DAYS: Final = 7
LONGEST_SEASON_DAYS: Final = 366


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """How many seasons a record covers, in parts of a season too; what was used counts from `begins_on` on.

    A season's use is all that goes from its first day to the next season's: what the winter's mending takes is of the
    season before. Where no season is covered, `seasons` is 0 and nothing counts.
    """

    seasons: float
    begins_on: date | None


def recorded_seasons(seasons: Sequence[Period], *, since: date, today: date) -> Recorded:
    """What a record from `since` to `today`, both included, covers of the newest ten seasons."""
    begun = sorted((season for season in seasons if season.start <= today), key=lambda season: season.start)
    covered = [(season, _covered(season, since, today)) for season in begun[-MOST_SEASONS:]]
    covered = [(season, part) for season, part in covered if part > 0]
    if not covered:
        return Recorded(seasons=0.0, begins_on=None)
    return Recorded(seasons=sum(part for _season, part in covered), begins_on=covered[0][0].start)


def season_days(seasons: Sequence[Period]) -> int:
    """How long a season is, by the latest one: 7 to 366 days; 90 where none is known."""
    if not seasons:
        return USUAL_SEASON_DAYS
    latest = max(seasons, key=lambda season: season.start)
    return min(max(latest.length, SHORTEST_SEASON_DAYS), LONGEST_SEASON_DAYS)


def _covered(season: Period, since: date, today: date) -> float:
    """The part of a season that lies within the record, 0 to 1."""
    first, last = max(season.start, since), min(season.last_day, today)
    return max((last - first).days + 1, 0) / season.length
