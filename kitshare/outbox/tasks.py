"""The doorbell of the outbox. A ring that is lost loses nothing: the next one finds the same rows."""

from typing import Final

from celery import shared_task
from django.utils import timezone

from kitshare.outbox import actions as outbox

# A ring carries so many keys, and each minute rings for so many messages at most. Several senders share them.
BATCH: Final = 10
AT_MOST: Final = 1000
# Dropped when the next round has rung for the same messages, so that a slow mail server lets no queue grow.
EXPIRES: Final = 55


@shared_task
def share_out_what_is_due() -> None:
    keys = outbox.what_is_due(at=timezone.now(), limit=AT_MOST)
    for first in range(0, len(keys), BATCH):
        deliver.apply_async((keys[first : first + BATCH],), expires=EXPIRES)


@shared_task
def deliver(keys: list[int]) -> None:
    outbox.deliver(keys=keys, at=timezone.now())
