"""The doorbell of the waiting list. A ring that is lost loses nothing: the next round finds the same."""

from celery import shared_task
from django.utils import timezone

from kitshare.bookings import offers


@shared_task
def look_after_the_waiting_list() -> None:
    offers.settle(at=timezone.now())
