"""How each thing stands on its shelf: what is there, how many should be at least, and what that rests on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Min
from django.utils import timezone
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.rules import stocking
from kitshare.rules.periods import Period
from kitshare.rules.shelf_use import Recorded, recorded_seasons, season_days
from kitshare.upkeep.shelf_models import USED_UP, ShelfMovement, ShelfPlace

FEWEST_SEASONS: Final = 0.01  # less than a day of a season teaches nothing
SELDOM: Final = 1000  # "one season in 1000" and rarer are said alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A thing at a depot: `count` there, `keep` as proposed from `used` in so many `seasons`."""

    place: ShelfPlace
    count: int
    keep: stocking.Keep
    used: int
    seasons: float

    @property
    def least(self) -> int:
        """The scheme's own least count, else the one that is proposed."""
        return self.keep.count if self.place.least_count is None else self.place.least_count

    @property
    def is_own(self) -> bool:
        return self.place.least_count is not None

    @property
    def to_get(self) -> int:
        return max(self.least - self.count, 0)

    @property
    def proposal(self) -> str:
        """Such as "keep 5: one season in 23 would need more"."""
        one_in = self.keep.one_season_in
        words = {"count": self.keep.count, "number": min(one_in, SELDOM)}
        if one_in > SELDOM:
            return _("keep %(count)d: fewer than one season in %(number)d would need more") % words
        return _("keep %(count)d: one season in %(number)d would need more") % words

    @property
    def rests_on(self) -> str:
        """Such as "7 used in 2.4 seasons"."""
        if self.seasons < FEWEST_SEASONS:
            return _("no season is recorded yet: taken as about one used in a season")
        seasons = f"{self.seasons:.1f}".removesuffix(".0")
        words = {"used": self.used, "seasons": number_format(seasons)}
        number = 1 if seasons == "1" else 2  # 0.4 seasons, 1 season, 2.4 seasons
        return ngettext("%(used)d used in %(seasons)s season", "%(used)d used in %(seasons)s seasons", number) % words


def standings(places: Iterable[ShelfPlace], *, seasons: Sequence[Period], one_in: int, today: date) -> list[Standing]:
    """How places fetched by `counted()` stand, in their order. Two queries for all of them.

    `seasons` are all of the scheme's, in any order; of them one in `one_in` may need more than is kept.
    """
    places = list(places)
    first = ShelfMovement.objects.filter(place__in=places).values("place").annotate(since=Min("at"))
    since = {row["place"]: timezone.localtime(row["since"]).date() for row in first}
    records = {key: recorded_seasons(seasons, since=day, today=today) for key, day in since.items()}
    used = _used(records)
    days = season_days(seasons)
    return [
        _standing(place, records.get(place.pk), used.get(place.pk, 0), season_days=days, one_in=one_in)
        for place in places
    ]


def _used(records: Mapping[int, Recorded]) -> dict[int, int]:
    """How many were used up since the day from which each place's record counts."""
    begins = {key: record.begins_on for key, record in records.items() if record.begins_on is not None}
    gone = ShelfMovement.objects.filter(place__in=list(begins), reason__in=USED_UP, change__lt=0)
    used: dict[int, int] = {}
    for key, at, change in gone.values_list("place_id", "at", "change"):
        if timezone.localtime(at).date() >= begins[key]:
            used[key] = used.get(key, 0) - change
    return used


def _standing(place: ShelfPlace, record: Recorded | None, used: int, *, season_days: int, one_in: int) -> Standing:
    belief, seasons = stocking.PRIOR, record.seasons if record else 0.0
    if seasons >= FEWEST_SEASONS:
        belief = belief.learned(used=min(used, stocking.MOST_USED), seasons=seasons)
    horizon = stocking.horizon_seasons(lead_days=place.thing.lead_days, season_days=season_days)
    keep = stocking.keep(belief, horizon=horizon, chance=1 / one_in)
    count: int = place.count  # type: ignore[attr-defined]
    return Standing(place=place, count=count or 0, keep=keep, used=used, seasons=seasons)
