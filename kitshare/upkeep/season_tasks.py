"""Every deed about the tasks of a season's start and end: listing them, ticking them off, taking a tick back."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.upkeep import eligibility
from kitshare.upkeep.care_refusals import CareRefused, MachineNotLent, NotTheirs
from kitshare.upkeep.season_models import Occasion, SeasonTask, TaskTick

MOST_TASKS: Final = 40
LONGEST_TASK: Final = 300
CHANGES: Final = ("season_tasks_listed",)


class TasksNotSensible(CareRefused):
    """Too many tasks, or one that nobody would read."""

    field = "lines"


@deed
def list_tasks(
    *, machine: Machine, occasion: Occasion, lines: Iterable[str], by: Member, at: datetime, seen: int | None = None
) -> list[SeasonTask]:
    """Put a list of tasks in place of a machine's, in this order; what stays by its words keeps its ticks."""
    _check_may(by)
    machine = _lock(machine.pk)
    if machine.retired_on or machine.kit.retired_on:
        raise MachineNotLent(machine=machine)
    wanted = _wanted(lines)
    there = list(SeasonTask.objects.filter(machine=machine, occasion=occasion, taken_off_at=None).order_by("position"))
    if [task.text for task in there] == wanted:
        return there
    logbook.check_unchanged(machine, seen=seen, by_deeds=CHANGES)
    of_text = {task.text: task for task in there}
    for task in there:
        if task.text not in wanted:
            task.taken_off_at = at
            task.save()
    for position, text in enumerate(wanted, start=1):
        task = of_text.get(text) or SeasonTask(machine=machine, occasion=occasion, text=text)
        task.position = position
        task.save()
        of_text[text] = task
    text = _("%(machine)s, tasks of the %(occasion)s: %(tasks)s")
    words = {"occasion": str(Occasion(occasion).label), "tasks": "; ".join(wanted) or _("none")}
    _write("season_tasks_listed", text, words, machines=[machine], by=by, at=at)
    return [of_text[text] for text in wanted]


@deed
def tick(*, tasks: Sequence[SeasonTask], season_key: int, season_name: str, by: Member, at: datetime) -> int:
    """Tick tasks off for a season; say how many. What somebody ticked before stays theirs, so twice is once."""
    _check_may(by)
    machines = [_lock(key) for key in sorted({task.machine_id for task in tasks})]
    chosen = [task.pk for task in tasks]
    left = list(SeasonTask.objects.open(season_key).filter(pk__in=chosen).in_order())
    if not left:
        return 0
    TaskTick.objects.bulk_create(TaskTick(task=task, season_key=season_key, by=by, at=at) for task in left)
    touched = {task.machine_id for task in left}
    about = [machine for machine in machines if machine.pk in touched]
    text = _("%(machine)s, %(season)s: ticked off %(tasks)s")
    words = {"season": season_name, "tasks": "; ".join(task.text for task in left)}
    _write("season_tasks_ticked", text, words, machines=about, by=by, at=at)
    return len(left)


@deed
def take_tick_back(*, task: SeasonTask, season_key: int, season_name: str, by: Member, at: datetime) -> None:
    """Open a task again that was ticked by mistake; the logbook keeps that it was. Twice is once."""
    _check_may(by)
    machine = _lock(task.machine_id)
    there = TaskTick.objects.filter(task=task, season_key=season_key).select_related("by").first()
    if there is None:
        return
    there.delete()
    text = _("%(machine)s, %(season)s: not done after all: %(task)s (%(who)s had ticked it)")
    words = {"season": season_name, "task": task.text, "who": there.by.name}
    _write("season_task_opened", text, words, machines=[machine], by=by, at=at)


def _wanted(lines: Iterable[str]) -> list[str]:
    """Each line once, without space around it, empty ones left out."""
    wanted = list(dict.fromkeys(text for line in lines if (text := " ".join(line.split()))))
    if len(wanted) > MOST_TASKS:
        raise TasksNotSensible(_("Give at most %(most)s tasks.") % {"most": MOST_TASKS})
    if any(len(text) > LONGEST_TASK for text in wanted):
        raise TasksNotSensible(_("Keep each task to %(most)s letters.") % {"most": LONGEST_TASK})
    return wanted


def _check_may(by: Member) -> None:
    if not eligibility.mends(by):
        raise NotTheirs


def _lock(key: int) -> Machine:
    return Machine.objects.select_related("kit").select_for_update(of=("self",), no_key=True).get(pk=key)


def _write(
    word: str, sentence: str, words: dict[str, str], *, machines: Sequence[Machine], by: Member, at: datetime
) -> None:
    told = words | {"machine": ", ".join(machine.name for machine in machines)}
    kits = {machine.kit_id: machine.kit for machine in machines}.values()
    logbook.write(deed=word, text=sentence % told, about=[*machines, *kits], by=by, at=at)
