"""What rows can be about in the year: a season's first and last day, and the lay-up at its end."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import partial
from typing import Final

from django.db.models import Max
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Season
from kitshare.reminders.ground import Ground
from kitshare.reminders.letters import short_day
from kitshare.reminders.models import Kind
from kitshare.reminders.occasions import EVER, Occasion
from kitshare.upkeep.season_models import Occasion as TaskOccasion
from kitshare.upkeep.season_models import SeasonTask, TaskTick

# A word about a season's day is made up for in so many days after it; then it would only puzzle.
STALE_AFTER: Final = timedelta(days=7)


def openings(ground: Ground) -> Iterator[Occasion]:
    """Seasons that open."""
    first, last = ground.days(Kind.SEASON_OPENS)
    for season in ground.seasons:
        if first <= season.opens_on <= last:
            yield _on_its_day(ground, season, season.opens_on, _("%(season)s opens on %(day)s"), "season_opens")


def closings(ground: Ground) -> Iterator[Occasion]:
    """Seasons that close."""
    first, last = ground.days(Kind.SEASON_CLOSES)
    for season in ground.seasons:
        if first <= season.closes_on <= last:
            yield _on_its_day(ground, season, season.closes_on, _("%(season)s closes on %(day)s"), "season_closes")


def _on_its_day(ground: Ground, season: Season, day: date, subject: str, template: str) -> Occasion:
    return Occasion(
        about=f"{season.pk}:{day}",
        day=day,
        subject=subject % {"season": season.name, "day": short_day(day)},
        template=template,
        thread=_thread(season),
        page=reverse("season:month"),
        until=ground.midnight_after(day + STALE_AFTER),
        words=partial(dict, season=season),
    )


def lay_ups(ground: Ground) -> Iterator[Occasion]:
    """What is on the lists of a season's end, until all of it is ticked off. Two queries a season that is near."""
    first, last = ground.days(Kind.LAY_UP)
    for season in ground.seasons:
        if not first <= season.closes_on <= last:
            continue
        left = SeasonTask.objects.open(season.pk).filter(occasion=TaskOccasion.LAY_UP)
        tasks = list(left.select_related("machine__kit").in_order())
        done_at = None if tasks else _ticked_last_at(season)
        if not tasks and done_at is None:
            continue  # no machine has such a list
        yield Occasion(
            about=f"{season.pk}:{season.closes_on}",
            day=season.closes_on,
            subject=_("Lay-up after %(season)s: what is still to be done") % {"season": season.name},
            template="lay_up",
            thread=_thread(season),
            page=reverse("upkeep:season_work"),
            until=done_at or EVER,
            words=partial(dict, season=season, machines=_by_machine(tasks)),
        )


def _ticked_last_at(season: Season) -> datetime | None:
    ticks = TaskTick.objects.filter(season_key=season.pk, task__occasion=TaskOccasion.LAY_UP)
    last: datetime | None = ticks.aggregate(last=Max("at"))["last"]
    return last


def _by_machine(tasks: list[SeasonTask]) -> list[tuple[str, list[str]]]:
    found: dict[str, list[str]] = {}
    for task in tasks:
        found.setdefault(task.machine.name, []).append(task.text)
    return list(found.items())


def _thread(season: Season) -> str:
    return f"season:{season.pk}"
