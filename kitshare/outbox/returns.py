"""Addresses from which post comes back: what mail servers said of them, and when that is over."""

from datetime import datetime, timedelta
from typing import Final

from django.db.models import F

from kitshare.engine import deed
from kitshare.outbox.models import BadAddress

# An address that is only full or slow is called bad after so many letters were given up.
GIVEN_UP: Final = 2
# A server that takes a letter and returns it later mostly does so within minutes; one that keeps trying does so for "at
# least 4-5 days" (RFC 5321, 4.5.4.1). A letter that was taken and not returned for so long has arrived.
SILENCE: Final = timedelta(days=5)


@deed
def note_refused(*, address: str, words: str, for_good: bool, at: datetime, returned: bool = False) -> BadAddress:
    """Keep what a mail server said of an address."""
    facts = {"is_bad": for_good, "was_returned": returned, "last_at": at, "words": words[:1000]}
    known, is_new = BadAddress.objects.get_or_create(address=address.lower(), defaults=facts)
    if is_new:
        return known
    known.letters = F("letters") + 1
    known.is_bad = known.is_bad or for_good
    known.was_returned = known.was_returned or returned
    known.last_at, known.words, known.taken_at = at, words[:1000], None
    known.save()
    BadAddress.objects.filter(pk=known.pk, letters__gte=GIVEN_UP).update(is_bad=True)
    known.refresh_from_db()
    return known


@deed
def note_taken(*, address: str, at: datetime) -> None:
    """A server took a letter to an address: it is good again, unless letters came back after they had been taken."""
    known = BadAddress.objects.of(address).first()
    if known is None:
        return
    if not known.was_returned or (known.taken_at is not None and at - known.taken_at >= SILENCE):
        known.delete()
    elif known.taken_at is None:
        known.taken_at = at
        known.save(update_fields=["taken_at"])
