"""What was seen of a machine's use, day by day, summed for services that go by it and for their forecasts.

That an outing was, is known. Its kilograms are estimated where nobody recorded the day; hours of a day on which nobody
said them are taken to be the mean of the machine's days on which somebody did, and count as estimated.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from kitshare.rules.due_by_use import Measure, Used, Watched
from kitshare.rules.periods import Period

LOOKS_BACK: Final = timedelta(days=3 * 366)
"""A forecast goes by no more than three years (our choice): a machine's work changes with the villages."""

TENTH: Final = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class UseDay:
    """One day of an outing, which is known by a number: kilograms and hours, each 0 where there were none."""

    outing: int
    day: date
    kg: Decimal
    hours: Decimal
    estimated: bool


def used(days: Sequence[UseDay], measure: Measure, *, since: date | None) -> Used:
    """What was done after a day, that day not counted; all there is, where it is None."""
    amounts = _amounts(days, measure)
    counted = [(one, *amounts[place]) for place, one in enumerate(days) if since is None or one.day > since]
    if measure == Measure.OUTINGS:
        return Used(amount=Decimal(len({one.outing for one, *_ in counted})))
    return Used(
        amount=sum((amount for _, amount, _ in counted), Decimal(0)),
        estimated=sum((amount for _, amount, is_estimated in counted if is_estimated), Decimal(0)),
    )


def watched(days: Sequence[UseDay], measure: Measure, *, seasons: Iterable[Period], today: date) -> Watched:
    """The outings of the last three years at most, over the season days since: from the first season with use on.

    Whole seasons count from their first day, so that the wait before the first outing is seen too.
    """
    seasons = list(seasons)
    late = [one for one in days if today - LOOKS_BACK <= one.day <= today]
    if not late:
        return Watched(season_days=0, amounts=())
    first = min(one.day for one in late)
    start = min([first, *(season.start for season in seasons if season.contains(first))])
    amounts = dict.fromkeys((one.outing for one in late), Decimal(0))
    with_estimates = False
    for one, (amount, is_estimated) in zip(late, _amounts(late, measure), strict=True):
        amounts[one.outing] = amount if measure == Measure.OUTINGS else amounts[one.outing] + amount
        with_estimates |= is_estimated and amount > 0
    length = sum(max(0, (min(season.end, today) - max(season.start, start)).days) for season in seasons)
    return Watched(season_days=length, amounts=tuple(amounts.values()), with_estimates=with_estimates)


def _amounts(days: Sequence[UseDay], measure: Measure) -> list[tuple[Decimal, bool]]:
    """The amount of each day, and whether it is estimated."""
    if measure == Measure.OUTINGS:
        return [(Decimal(1), False)] * len(days)
    if measure == Measure.KG:
        return [(one.kg, one.estimated) for one in days]
    said = [one.hours for one in days if one.hours > 0]
    usual = (sum(said, Decimal(0)) / len(said)).quantize(TENTH) if said else Decimal(0)
    return [(one.hours, one.estimated) if one.hours > 0 else (usual, True) for one in days]
