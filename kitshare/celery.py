"""The celery application: a doorbell. The outbox is the queue, and the database is the truth.

The settings are those that were measured to lose nothing when a worker dies: acknowledge after the work, put
back what a dead process held, take one task at a time, and keep every task far shorter than the time after which the
broker hands it to somebody else.
"""

import os

from celery import Celery

from kitshare.serving import task_logs

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitshare.settings")

app = Celery("kitshare")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    task_time_limit=120,
    task_soft_time_limit=100,
    task_ignore_result=True,
    broker_transport_options={"visibility_timeout": 600},
    broker_connection_retry_on_startup=True,
    timezone="UTC",
    # A ring that nobody answered within its minute is dropped: the next one does the same work.
    beat_schedule={
        "look after the waiting list": {
            "task": "kitshare.bookings.tasks.look_after_the_waiting_list",
            "schedule": 60.0,
            "options": {"expires": 55},
        },
        "see to what is over": {
            "task": "kitshare.reminders.tasks.see_to_what_is_over",
            "schedule": 60.0,
            "options": {"expires": 55},
        },
        "write due reminders": {
            "task": "kitshare.reminders.tasks.write_due_reminders",
            "schedule": 60.0,
            "options": {"expires": 55},
        },
        "deliver what is due": {
            "task": "kitshare.outbox.tasks.deliver_due",
            "schedule": 60.0,
            "options": {"expires": 55},
        },
        "forget logs that nobody saved": {
            "task": "kitshare.pressdays.tasks.sweep",
            "schedule": 3600.0,
            "options": {"expires": 3500},
        },
        "forget old files": {
            "task": "kitshare.bringing.tasks.sweep",
            "schedule": 3600.0,
            "options": {"expires": 3500},
        },
    },
)
app.autodiscover_tasks()
task_logs.connect()
