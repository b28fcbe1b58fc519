"""The doorbell of the outbox. A ring that is lost loses nothing: the next one finds the same rows."""

from celery import shared_task
from django.utils import timezone

from kitshare.outbox import actions as outbox


@shared_task
def deliver_due() -> None:
    outbox.deliver_due(at=timezone.now())
