"""Works out whose offer of days runs out soon. It only reads."""

from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.waiting_models import Offer
from kitshare.outbox.models import Message
from kitshare.people.models import Scheme
from kitshare.reminders.letters import Letter, short_day, thread_of

# Reminded when a quarter of the time is left, three hours before the end at the earliest.
PART_LEFT: Final = 4
AT_MOST_BEFORE: Final = timedelta(hours=3)


def offers_running_out(*, scheme: Scheme, at: datetime) -> list[Letter]:
    """One letter for each open offer that runs out soon, and of which nobody was reminded yet.

    Whoever has no e-mail and is still to be telephoned about the offer itself is not to be telephoned twice.
    """
    ending = Offer.objects.open().filter(until__gt=at, until__lte=at + AT_MOST_BEFORE)
    soon = [
        offer
        for offer in ending.select_related("booking__village", "booking__borrower").order_by("until", "pk")
        if at >= offer.until - (offer.until - offer.made_at) / PART_LEFT
    ]
    if not soon:
        return []
    threads = [thread_of(offer.booking) for offer in soon]
    told = set(Message.objects.filter(thread__in=threads).values_list("key", flat=True))
    to_ring = set(Message.objects.to_telephone().filter(thread__in=threads).values_list("key", flat=True))
    letters = [_letter(offer, offer.booking, scheme) for offer in soon]
    return [
        one
        for one, offer in zip(letters, soon, strict=True)
        if one.key not in told and f"offer-made:{offer.pk}:{one.to.pk}" not in to_ring
    ]


def _letter(offer: Offer, booking: Booking, scheme: Scheme) -> Letter:
    member = booking.borrower
    words = {"village": booking.village.name, "day": short_day(offer.out_on)}
    values = {
        "to": member,
        "booking": booking,
        "offer": offer,
        "scheme": scheme,
        "address": settings.SITE_ADDRESS.rstrip("/") + reverse("waiting:offer", args=[offer.pk]),
    }
    with timezone.override(scheme.zone):
        body = render_to_string("post/letters/offer_runs_out.txt", values)
    return Letter(
        key=f"offer-runs-out:{offer.pk}:{member.pk}",
        to=member,
        subject=_("The offer runs out soon: %(village)s from %(day)s") % words,
        body=body.strip() + "\n",
        thread=thread_of(booking),
    )
