"""A clock that jumps: nobody is told twice, and nobody is left out."""

from datetime import timedelta

import pytest
from django.core import mail

from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from tests.reminders.conftest import agreed, asked, on

__all__ = ["agreed", "asked"]

TOLD = {"booking-asked", "booking-agreed", "pickup-tomorrow"}


def rounds(first, last):
    """From one moment to another, three hours apart."""
    step = timedelta(hours=3)
    return [first + number * step for number in range((last - first) // step + 1)]


@pytest.mark.one_engine
@pytest.mark.django_db
@pytest.mark.parametrize(
    "clock",
    [
        [*rounds(on(9, 18), on(10, 6)), on(10, 7), on(10, 6), *rounds(on(10, 6, 30), on(11, 12))],
        [on(9, 9), on(10, 9), on(10, 10), *rounds(on(9, 10), on(11, 12))],
        [on(9, 9), on(10, 9), on(11, 9)],
    ],
    ids=["an hour back, just after a reminder was told", "a day forward and back again", "a day forward, twice"],
)
def test_each_reminder_is_told_once_whatever_the_clock_does(agreed, clock, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"

    for at in clock:
        reminders.tick(at=at)

    names = [letter.extra_headers["Message-ID"] for letter in mail.outbox]
    assert {key.partition(":")[0] for key in Message.objects.values_list("key", flat=True)} == TOLD
    assert len(names) == len(set(names)) == len(TOLD)
    assert not Message.objects.waiting().exists()
