"""The celery application: a doorbell. The outbox is the queue, and the database is the truth.

A task takes ids at most, and calls an action that may be called twice. DEVELOPERS.md says of each setting why it is so
("Celery").
"""

import os
from typing import Any, Final

from celery import Celery
from kombu import Exchange, Queue

from kitshare.serving import task_logs

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitshare.settings")

MINUTE: Final = 60
HOUR: Final = 3600

# In seconds, each within the next, as a test holds: the slowest round of sending, the soft limit, the hard limit, a
# message's lease, and the time after which Redis hands out again what nobody acknowledged.
SOFT_LIMIT: Final = 240
HARD_LIMIT: Final = 270
VISIBILITY_TIMEOUT: Final = 600


def _each(seconds: int, task: str) -> dict[str, Any]:
    """Ring so often. A ring that nobody answered before the next is dropped: the next does the same work."""
    return {"task": f"kitshare.{task}", "schedule": float(seconds), "options": {"expires": seconds - 5}}


app = Celery("kitshare")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    worker_cancel_long_running_tasks_on_connection_loss=False,
    task_soft_time_limit=SOFT_LIMIT,
    task_time_limit=HARD_LIMIT,
    task_ignore_result=True,
    # Whoever publishes hears within seconds that Redis is away; whoever consumes waits for it as long as it takes.
    task_publish_retry=False,
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    broker_transport_options={
        "visibility_timeout": VISIBILITY_TIMEOUT,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
        "socket_connect_timeout": 2,
        "socket_timeout": 3,
        "max_retries": 1,
        "interval_start": 0.2,
    },
    task_default_queue="plan",
    task_queues=[Queue(name, Exchange(name), routing_key=name) for name in ("plan", "send", "report")],
    task_routes={
        "kitshare.outbox.tasks.deliver": {"queue": "send"},
        "kitshare.*.tasks.report_*": {"queue": "report"},
    },
    timezone="UTC",
    beat_scheduler="kitshare.serving.beat:OneBeatRings",
    beat_schedule={
        "look after the waiting list": _each(MINUTE, "bookings.tasks.look_after_the_waiting_list"),
        "see to what is over": _each(MINUTE, "reminders.tasks.see_to_what_is_over"),
        "write due reminders": _each(MINUTE, "reminders.tasks.write_due_reminders"),
        "deliver what is due": _each(MINUTE, "outbox.tasks.share_out_what_is_due"),
        "forget logs that nobody saved": _each(HOUR, "pressdays.tasks.sweep"),
        "forget old files": _each(HOUR, "bringing.tasks.sweep"),
        "share out long works": {
            "task": "kitshare.works.tasks.share_out_what_waits",
            "schedule": 5.0,
            "options": {"expires": 4},
        },
        "forget old works": _each(HOUR, "works.tasks.sweep"),
    },
)
app.autodiscover_tasks()
task_logs.connect()
