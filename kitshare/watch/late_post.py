"""How late the post is, whoever should have sent it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Case, Count, F, Min, Q, When

from kitshare.outbox.models import Message


@dataclass(frozen=True, slots=True)
class LatePost:
    """How many letters should have gone by now, and how late the oldest of them is."""

    letters: int
    by: timedelta


def late_post(at: datetime) -> LatePost:
    """Letters whose moment has come. One that was refused waits for another try, and is late since it was written."""
    since = Case(When(attempts__gt=0, then=F("queued_at")), default=F("due_at"))
    should_have_gone = Message.objects.on_their_way().filter(Q(due_at__lte=at) | Q(attempts__gt=0))
    found = should_have_gone.aggregate(letters=Count("pk"), oldest=Min(since))
    by = max(at - found["oldest"], timedelta(0)) if found["oldest"] else timedelta(0)
    return LatePost(letters=found["letters"], by=by)
