"""Every change to the seasons: when fruit is pressed, and so when anything can be booked."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Final

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from kitshare.bookings.days import lock_all_machines
from kitshare.bookings.models import Booking, Season, Stage
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme

YEAR: Final = timedelta(days=366)


class SeasonRefused(Exception):
    """A season that cannot be so. `field` names what to correct."""

    field = "opens_on"


class SeasonNameTaken(SeasonRefused):
    """Another season has this name."""

    field = "name"

    def __init__(self, name: str) -> None:
        super().__init__(_("There is a season called %(name)s already.") % {"name": name})
        self.name = name


class SeasonBackwards(SeasonRefused):
    """The last day is before the first."""

    field = "closes_on"

    def __init__(self) -> None:
        super().__init__(_("The last day of a season is not before its first day."))


class SeasonTooLong(SeasonRefused):
    """Longer than a year: most likely a slip in the year."""

    field = "closes_on"

    def __init__(self) -> None:
        super().__init__(_("A season lasts a year at most. Look at the years."))


class SeasonsOverlap(SeasonRefused):
    """Some day would be in two seasons."""

    def __init__(self, other: Season) -> None:
        sentence = _("%(name)s runs from %(first)s to %(last)s already. Two seasons share no day.")
        super().__init__(
            sentence % {"name": other.name, "first": _written(other.opens_on), "last": _written(other.closes_on)}
        )
        self.other = other


class BookingsOutside(SeasonRefused):
    """Bookings of the season would fall outside it."""

    def __init__(self, bookings: Sequence[Booking]) -> None:
        named = "; ".join(
            f"{booking.village.name}, {_written(booking.out_on)} – {_written(booking.back_on)}" for booking in bookings
        )
        sentence = _("These bookings would fall outside the season: %(named)s. Change or call them off first.")
        super().__init__(sentence % {"named": named})
        self.bookings = bookings


@deed
def add_season(*, name: str, opens_on: date, closes_on: date, by: Member, at: datetime) -> Season:
    """Open a season to bookings."""
    season = Season(name=name, opens_on=opens_on, closes_on=closes_on)
    _check(season)
    _save(season)
    text = _("Added the season %(name)s, %(first)s to %(last)s.") % _facts(season)
    logbook.write(deed="season_added", text=text, about=[season], by=by, at=at)
    return season


@deed
def change_season(
    *, season: Season, name: str, opens_on: date, closes_on: date, by: Member, at: datetime, seen: int | None = None
) -> Season:
    """Change a season's name or days. It cannot shrink below the bookings that lie in it."""
    # The scheme, then the machines, as everybody locks them who closes days: a booking under way is seen, or sees this.
    Scheme.objects.select_for_update().first()
    lock_all_machines()
    season = Season.objects.select_for_update().get(pk=season.pk)
    before = season.period
    if (season.name, season.opens_on, season.closes_on) == (name, opens_on, closes_on):
        return season
    logbook.check_unchanged(season, seen=seen, by_deeds=["season_changed"])
    season.name, season.opens_on, season.closes_on = name, opens_on, closes_on
    _check(season)
    outside = bookings_outside(season, of=(before.start, before.end))
    if outside:
        raise BookingsOutside(outside)
    _save(season)
    text = _("Changed the season %(name)s: %(first)s to %(last)s.") % _facts(season)
    logbook.write(deed="season_changed", text=text, about=[season], by=by, at=at)
    return season


def bookings_outside(season: Season, *, of: tuple[date, date]) -> list[Booking]:
    """Bookings that went out in the half-open days `of`, and of which some day is outside the season."""
    start, end = of
    outside = Q(out_on__lt=season.opens_on) | Q(back_on__gt=season.closes_on + timedelta(days=1))
    kept = Booking.objects.exclude(stage__in=[Stage.WAITING, Stage.DECLINED, Stage.CALLED_OFF])
    in_it = kept.filter(outside, out_on__gte=start, out_on__lt=end)
    return list(in_it.select_related("village").order_by("out_on", "pk"))


def _check(season: Season) -> None:
    if season.closes_on < season.opens_on:
        raise SeasonBackwards
    if season.closes_on - season.opens_on >= YEAR:
        raise SeasonTooLong
    # No constraint on both engines can forbid the overlap, so writers of seasons queue at the scheme's row.
    Scheme.objects.select_for_update().first()
    others = Season.objects.exclude(pk=season.pk)
    other = others.filter(opens_on__lte=season.closes_on, closes_on__gte=season.opens_on).order_by("opens_on").first()
    if other:
        raise SeasonsOverlap(other)


def _save(season: Season) -> None:
    if Season.objects.filter(name__iexact=season.name).exclude(pk=season.pk).exists():
        raise SeasonNameTaken(season.name)
    try:
        with transaction.atomic():
            season.save()
    except IntegrityError:
        raise SeasonNameTaken(season.name) from None


def _written(day: date) -> str:
    return date_format(day, "D j M Y")


def _facts(season: Season) -> dict[str, str]:
    return {"name": season.name, "first": _written(season.opens_on), "last": _written(season.closes_on)}
