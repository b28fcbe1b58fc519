"""What rows can be about on the waiting list: an offer that runs out."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import partial
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.waiting_models import Offer
from kitshare.reminders.ground import Ground
from kitshare.reminders.letters import short_day, thread_of
from kitshare.reminders.models import Kind
from kitshare.reminders.occasions import EVER, Occasion

# Of a short offer reminded when a quarter of its time is left, however many hours the row says.
PART_LEFT: Final = 4


def offers(ground: Ground) -> Iterator[Occasion]:
    """Offers that nobody has answered. One query."""
    reach = timedelta(hours=max((row.hours or 0 for row in ground.rows_of(Kind.OFFER)), default=0))
    near = Offer.objects.filter(until__gt=ground.first, until__lte=ground.last + reach)
    found = near if ground.other_days else near.open()
    for offer in found.select_related("booking__village", "booking__borrower").order_by("until", "pk"):
        booking = offer.booking
        words = {"village": booking.village.name, "day": short_day(offer.out_on)}
        yield Occasion(
            about=str(offer.pk),
            day=offer.until.astimezone(ground.zone).date(),
            subject=_("The offer runs out soon: %(village)s from %(day)s") % words,
            template="offer_runs_out",
            thread=thread_of(booking),
            page=reverse("waiting:offer", args=[offer.pk]),
            booking=booking,
            since=offer.made_at,
            until=min(offer.ended_at or EVER, offer.until),
            ends_at=offer.until,
            needed_by=offer.until,
            time_left=(offer.until - offer.made_at) / PART_LEFT,
            words=partial(dict, offer=offer),
        )


def said_by(offer_key: str, member_key: int) -> str:
    """The key of the message that made an offer: whoever is still to be telephoned about it hears of it only once."""
    return f"offer-made:{offer_key}:{member_key}"


def moment_of_offer(occasion: Occasion, hours: int) -> datetime:
    """When a row of so many hours reminds of an offer."""
    assert occasion.ends_at is not None  # noqa: S101
    return occasion.ends_at - min(timedelta(hours=hours), occasion.time_left)
