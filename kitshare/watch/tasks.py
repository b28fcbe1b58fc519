"""What celery's workers do is noted as they do it: celery calls these functions around each task."""

import logging
import time
from typing import Any, Final

from celery import Task, signals
from celery.states import SUCCESS
from django.db import DatabaseError
from django.utils import timezone

from kitshare.watch import actions as watch
from kitshare.watch.models import RoundName

log = logging.getLogger(__name__)

OF_TASK: Final = {"kitshare.reminders.tasks.write_due_reminders": RoundName.REMINDERS}
SELDOM_SECONDS: Final = watch.SELDOM.total_seconds()

_begun: dict[str, float] = {}
_noted: dict[str, float] = {}


@signals.task_prerun.connect
def begin(task_id: str = "", **_unused: Any) -> None:
    _begun[task_id] = time.monotonic()


@signals.task_postrun.connect
def note(task_id: str = "", task: Task[Any, Any] | None = None, state: str = "", **_unused: Any) -> None:
    """A task that was done well shows that its worker lives. That this cannot be noted stops no task."""
    took = time.monotonic() - _begun.pop(task_id, time.monotonic())
    if state != SUCCESS or task is None:
        return
    for name in {OF_TASK.get(task.name or "", RoundName.WORKER), RoundName.WORKER}:
        if time.monotonic() - _noted.get(name, -SELDOM_SECONDS) < SELDOM_SECONDS:
            continue
        _noted[name] = time.monotonic()
        try:
            watch.note_round(name=name, seconds=took, at=timezone.now())
        except DatabaseError as error:
            log.warning("That a worker lives could not be noted: %s", type(error).__name__)
