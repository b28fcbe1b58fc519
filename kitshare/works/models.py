"""A long work that somebody asked for, and how far it has come."""

import uuid
from datetime import datetime, timedelta
from typing import ClassVar, Final

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member

KEPT_FOR: Final = timedelta(days=7)
LEASE: Final = timedelta(seconds=settings.WORK_LEASE_SECONDS)
# A work that took its worker with it so often would take the next one too.
TRIES: Final = 3


class Kind(models.TextChoices):
    BRING_IN = "bring_in", _("Bring in bookings from a file")
    COPY = "copy", _("Copy of the bookings")
    FIGURES = "figures", _("The season in figures")
    BACKUP = "backup", _("Backup of the site")
    REHEARSAL = "rehearsal", _("Try of a backup")


class State(models.TextChoices):
    ASKED = "asked", _("waiting for its turn")
    RUNNING = "running", _("under way")
    DONE = "done", _("done")
    FAILED = "failed", _("not done")
    CANCELLED = "cancelled", _("cancelled")


OPEN: Final = (State.ASKED, State.RUNNING)


class WorkQuerySet(models.QuerySet["Work"]):
    def open(self) -> "WorkQuerySet":
        return self.filter(state__in=OPEN)

    def to_take_up(self, at: datetime) -> "WorkQuerySet":
        """Works that nobody does: asked for, or left by a worker that was killed. The first asked comes first."""
        left = Q(state=State.RUNNING, lease_until__lt=at)
        return self.filter(Q(state=State.ASKED) | left).order_by("asked_at", "pk")

    def tries_of_backups(self) -> "WorkQuerySet":
        """Backups that were tried to the end, whatever it was, the newest first."""
        tried = self.filter(kind=Kind.REHEARSAL, state__in=(State.DONE, State.FAILED))
        return tried.order_by("-ended_at", "-asked_at", "pk")

    def files_to_try(self) -> list[str]:
        """The names of backups that somebody waits to have tried."""
        return [str(keys["file"]) for keys in self.open().filter(kind=Kind.REHEARSAL).values_list("keys", flat=True)]

    def kept_too_long(self, at: datetime) -> "WorkQuerySet":
        """What ended a week ago; but the last try of a backup stays until the next, and so does the last good one."""
        over = self.exclude(state__in=OPEN).filter(ended_at__lt=at - KEPT_FOR)
        for tries in (Work.objects.tries_of_backups(), Work.objects.tries_of_backups().filter(state=State.DONE)):
            over = over.exclude(pk__in=tries.values("pk")[:1])
        return over


class Work(models.Model):
    """One long work. It holds keys alone of what it is about, so that it is done with what is here by then."""

    key = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=20, choices=Kind)
    about = models.CharField(max_length=120, help_text="The same work asked for twice says the same here.")
    keys = models.JSONField(default=dict)
    title = models.CharField(max_length=200)
    asked_by = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="works")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.ASKED)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    words = models.TextField(blank=True, help_text="What is done now; afterwards what became of it.")
    found = models.JSONField(null=True, blank=True, help_text="What it found, in figures.")
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0, help_text="How often somebody began it.")
    ended_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar = WorkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["about"], condition=Q(state__in=OPEN), name="work_under_way_once"),
            models.CheckConstraint(
                condition=Q(state__in=OPEN, ended_at=None) | (~Q(state__in=OPEN) & Q(ended_at__isnull=False)),
                name="work_says_when_it_ended",
            ),
        ]
        indexes = [
            models.Index(fields=["asked_at"], condition=Q(state__in=OPEN), name="work_open"),
            models.Index(fields=["-asked_at"], name="work_newest_first"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def is_open(self) -> bool:
        return self.state in OPEN


class WorkFile(models.Model):
    """A file that a work made, kept as long as the work itself and wherever its database is."""

    work = models.OneToOneField(Work, on_delete=models.CASCADE, related_name="file", primary_key=True)
    name = models.CharField(max_length=200)
    content_type = models.CharField(max_length=100)
    data = models.BinaryField()

    def __str__(self) -> str:
        return self.name
