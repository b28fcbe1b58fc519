"""The doorbell of long works. A ring that is lost loses nothing: the next one finds the same rows."""

from typing import Final

from celery import shared_task
from django.utils import timezone

from kitshare.works import actions as works
from kitshare.works import running
from kitshare.works.models import Work

# Rung for every few seconds, so that nobody who waits for a page needs Redis for asking.
EXPIRES: Final = 5
AT_MOST: Final = 20


@shared_task
def share_out_what_waits() -> None:
    for key in Work.objects.to_take_up(timezone.now()).values_list("pk", flat=True)[:AT_MOST]:
        report_work.apply_async((str(key),), expires=EXPIRES)


@shared_task
def report_work(key: str) -> None:
    running.do(key, clock=timezone.now)


@shared_task
def sweep() -> None:
    works.sweep(at=timezone.now())
