"""The celery application of the site with its minute shortened, for a beat that a test waits for."""

from kitshare.celery import app

for entry in app.conf.beat_schedule.values():
    entry["schedule"] = 1.0

__all__ = ["app"]
