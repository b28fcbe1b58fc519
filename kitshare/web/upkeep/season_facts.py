"""What the pages of a season's start and end show: each machine's tasks, who ticked which, and what is left."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings import fit
from kitshare.bookings.models import Season
from kitshare.kits.models import Kit, Machine
from kitshare.upkeep.season_models import Occasion, SeasonTask, TaskTick


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Whose start or end is shown."""

    season: Season
    occasion: Occasion

    @property
    def title(self) -> str:
        words = {"season": self.season.name}
        if self.occasion == Occasion.START:
            return _("Start of %(season)s") % words
        return _("End of %(season)s") % words

    @property
    def query(self) -> str:
        return f"season={self.season.pk}&occasion={self.occasion.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskRow:
    """A task, and its tick where it has one."""

    task: SeasonTask
    tick: TaskTick | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineTasks:
    """A machine's tasks in order."""

    machine: Machine
    rows: Sequence[TaskRow]

    @property
    def left(self) -> int:
        return sum(row.tick is None for row in self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitLeft:
    """A kit with how much is listed and left."""

    kit: Kit
    listed: int
    left: int

    @property
    def words(self) -> str:
        if not self.listed:
            return _("Nothing is listed.")
        if not self.left:
            return _("All is ticked off.")
        text = ngettext("%(left)d of %(listed)d task left.", "%(left)d of %(listed)d tasks left.", self.listed)
        return text % {"left": self.left, "listed": self.listed}


def chosen(asked: Mapping[str, str], today: date) -> Chosen | None:
    """The season and the occasion of an address, else those that are due, else the start of the next, if any."""
    seasons = {str(season.pk): season for season in Season.objects.order_by("opens_on", "pk")}
    due = fit.season_work(today)
    season = seasons.get(asked.get("season", "")) or (due[0] if due else Season.objects.current_or_next(today))
    if season is None:
        return None
    named = asked.get("occasion", "")
    if named in Occasion.values:
        return Chosen(season=season, occasion=Occasion(named))
    return Chosen(season=season, occasion=due[1] if due and due[0] == season else Occasion.START)


def tasks_of(kit: Kit, what: Chosen) -> list[MachineTasks]:
    """The machines in use of a kit with their tasks. Three queries."""
    machines = list(kit.machines.filter(retired_on=None).order_by("position", "pk"))
    tasks = list(SeasonTask.objects.in_force().filter(machine__in=machines, occasion=what.occasion).in_order())
    found = TaskTick.objects.filter(task__in=tasks, season_key=what.season.pk).select_related("by")
    ticks = {tick.task_id: tick for tick in found}
    return [
        MachineTasks(
            machine=machine,
            rows=[TaskRow(task=task, tick=ticks.get(task.pk)) for task in tasks if task.machine_id == machine.pk],
        )
        for machine in machines
    ]


def kits_left(what: Chosen) -> list[KitLeft]:
    """Every kit in use with what is listed and left. Three queries."""
    of_occasion = {"occasion": what.occasion}
    listed = _by_kit(SeasonTask.objects.in_force().filter(**of_occasion))
    left = _by_kit(SeasonTask.objects.open(what.season.pk).filter(**of_occasion))
    kits = Kit.objects.in_use().order_by("name", "pk")
    return [KitLeft(kit=kit, listed=listed.get(kit.pk, 0), left=left.get(kit.pk, 0)) for kit in kits]


def _by_kit(tasks: Iterable[SeasonTask]) -> dict[int, int]:
    counted = tasks.order_by().values_list("machine__kit").annotate(many=Count("pk"))  # type: ignore[attr-defined]
    return dict(counted)


def line_about(today: date) -> str:
    """What is left of a season's start or end that is due, in a sentence; empty where nothing is. Two queries."""
    due = fit.season_work(today)
    if due is None:
        return ""
    what = Chosen(season=due[0], occasion=due[1])
    left = SeasonTask.objects.open(what.season.pk).filter(occasion=what.occasion).count()
    if not left:
        return ""
    text = ngettext("%(title)s: %(left)d task is left.", "%(title)s: %(left)d tasks are left.", left)
    return text % {"title": what.title, "left": left}
