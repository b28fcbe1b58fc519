"""Fit to lend, asked with the scheme's own seasons: upkeep answers, and knows of none.

Forecasts of use go by seasons; and in the first weeks of one, tasks of its start that nobody ticked off caution.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Final

from kitshare.bookings.models import Season
from kitshare.kits.models import Machine
from kitshare.upkeep import fitness
from kitshare.upkeep.fitness import Reason
from kitshare.upkeep.season_models import Occasion

# Our choice: so long before it opens a season is near, and so long after it the machines plainly run.
OPENING: Final = timedelta(days=28)
# So long after a season ended its lay-up is asked for.
LAYING_UP: Final = timedelta(days=90)


def reasons(machines: Iterable[Machine], *, on: date, today: date) -> list[Reason]:
    """All that stops or cautions some machines on a day, what stops first. Seven queries at most, however many."""
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    opening = next((one.pk for one in seasons if one.opens_on <= on < one.opens_on + OPENING), None)
    periods = [season.period for season in seasons]
    return fitness.reasons(machines, on=on, today=today, seasons=periods, opening=opening)


def season_work(today: date) -> tuple[Season, Occasion] | None:
    """Whose start is near or just was, else whose end has passed; None in between. One query."""
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    for season in seasons:
        if season.opens_on - OPENING <= today < season.opens_on + OPENING:
            return season, Occasion.START
    for season in reversed(seasons):
        if season.closes_on < today <= season.closes_on + LAYING_UP:
            return season, Occasion.LAY_UP
    return None
