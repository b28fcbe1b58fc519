"""What is done to each machine as a season begins and as it ends: tasks that people list, ticked off each season."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine
from kitshare.people.models import Member


class Occasion(models.TextChoices):
    START = "start", _("season's start")
    LAY_UP = "lay_up", _("season's end")


class SeasonTaskQuerySet(models.QuerySet["SeasonTask"]):
    def in_force(self) -> "SeasonTaskQuerySet":
        """Tasks that are still on the list, of machines in use."""
        return self.filter(taken_off_at=None, machine__retired_on=None, machine__kit__retired_on=None)

    def open(self, season_key: int) -> "SeasonTaskQuerySet":
        """Those that nobody has ticked off in a season."""
        ticked = TaskTick.objects.filter(task=models.OuterRef("pk"), season_key=season_key)
        return self.in_force().filter(~models.Exists(ticked))

    def in_order(self) -> "SeasonTaskQuerySet":
        return self.order_by("machine__position", "machine_id", "position", "pk")


class SeasonTask(models.Model):
    """One thing to do to a machine at the start or the end of each season. Taken off the list, its ticks stay."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="season_tasks")
    occasion = models.CharField(max_length=6, choices=Occasion)
    text = models.CharField(_("what to do"), max_length=300)
    position = models.PositiveSmallIntegerField()
    taken_off_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar = SeasonTaskQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "occasion", "text"],
                condition=Q(taken_off_at=None),
                name="season_task_listed_once_a_machine",
            ),
            models.CheckConstraint(condition=~Q(text=""), name="season_task_says_something"),
        ]

    def __str__(self) -> str:
        return self.text


class TaskTick(models.Model):
    """Who did a task in a season, and when. The season is known by its key alone: seasons lie above upkeep."""

    task = models.ForeignKey(SeasonTask, on_delete=models.PROTECT, related_name="ticks")
    season_key = models.BigIntegerField()
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = models.Manager["TaskTick"]()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["task", "season_key"], name="season_task_ticked_once_a_season")]

    def __str__(self) -> str:
        return f"{self.task} ({self.season_key})"
