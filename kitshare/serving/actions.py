"""Taking a lease and giving it back: the update itself decides who has it, on either engine."""

from datetime import datetime, timedelta

from django.db.models import Q

from kitshare.engine import deed
from kitshare.serving.models import Lease


@deed
def hold_lease(*, work: str, holder: str, lasting: timedelta, at: datetime) -> bool:
    """Take the lease of a work, or prolong it; whether the holder has it now.

    A lease that ends much later than any taken now was taken before the clock was set back, and binds nobody.
    """
    until = at + lasting
    lease, is_new = Lease.objects.get_or_create(work=work, defaults={"holder": holder, "until": until})
    free = Q(holder=holder) | Q(until__lte=at) | Q(until__gt=at + 2 * lasting)
    return is_new or bool(Lease.objects.filter(free, pk=lease.pk).update(holder=holder, until=until))


@deed
def give_lease_back(*, work: str, holder: str, at: datetime) -> None:
    """Let somebody else begin at once. Whoever does not hold it changes nothing."""
    Lease.objects.filter(work=work, holder=holder).update(until=at)
