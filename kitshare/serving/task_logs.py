"""The log of celery's processes: written as the site writes its own, and each task says to which request it belongs."""

import logging.config
from typing import Any, Final

from celery import Task, signals
from django.conf import settings

from kitshare.serving import logs

HEADER: Final = "kitshare_belongs_to"


def connect() -> None:
    """Let celery call the functions below."""
    signals.setup_logging.connect(write_as_the_site_does)
    signals.before_task_publish.connect(send_along)
    signals.task_prerun.connect(begin)
    signals.task_postrun.connect(end)


def write_as_the_site_does(loglevel: int = logging.WARNING, **_unused: Any) -> None:
    """In celery's place: its own formats know neither JSON nor what must be left out."""
    logging.config.dictConfig(settings.LOGGING)
    logging.getLogger("celery").setLevel(loglevel)


def send_along(headers: dict[str, Any] | None = None, **_unused: Any) -> None:
    """With the task goes what the sender's log belongs to: numbers and a key, no names."""
    if headers is not None:
        headers[HEADER] = {
            key: said for key, said in logs.belongs_to().items() if key in {"request", "round", "member"}
        }


def begin(task_id: str = "", task: Task[Any, Any] | None = None, **_unused: Any) -> None:
    sent = task.request.get(HEADER) if task is not None else None
    logs.begin(**(sent if isinstance(sent, dict) else {}), task=task_id)


def end(**_unused: Any) -> None:
    logs.end()
