"""How late the post is, whoever should have sent it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Final

from django.db.models import Case, Count, DateTimeField, F, Min, Q, When
from django.db.models.functions import Greatest

from kitshare.outbox.actions import FIRST_WAIT, LONGEST_WAIT
from kitshare.outbox.models import TRIES, Message

# How long after its first try a letter of so many tries is due again, as far as the pauses are known beforehand.
WAITED: Final = list(accumulate(min(FIRST_WAIT * 2**tries, LONGEST_WAIT) for tries in range(TRIES)))


@dataclass(frozen=True, slots=True)
class LatePost:
    """How many letters should have gone by now, and how late the oldest of them is."""

    letters: int
    by: timedelta


def late_post(at: datetime) -> LatePost:
    """Letters whose moment has come. One that was refused is due later, and late since its first try.

    That moment is reckoned back from when it is due again: written at night it may have waited for the morning.
    """
    tried = [
        When(attempts=tries, then=Greatest(F("queued_at"), F("due_at") - waited))
        for tries, waited in enumerate(WAITED, start=1)
    ]
    since = Case(*tried, default=F("due_at"), output_field=DateTimeField())
    should_have_gone = Message.objects.on_their_way().filter(Q(due_at__lte=at) | Q(attempts__gt=0))
    found = should_have_gone.aggregate(letters=Count("pk"), oldest=Min(since))
    by = max(at - found["oldest"], timedelta(0)) if found["oldest"] else timedelta(0)
    return LatePost(letters=found["letters"], by=by)
