"""The doorbell of the reminders. A ring that is lost loses nothing: the next one works out the same letters."""

from celery import shared_task
from django.utils import timezone

from kitshare.reminders import actions as reminders


@shared_task
def write_due_reminders() -> None:
    reminders.write_due_reminders(at=timezone.now())


@shared_task
def see_to_what_is_over() -> None:
    reminders.see_to_what_is_over(at=timezone.now())
