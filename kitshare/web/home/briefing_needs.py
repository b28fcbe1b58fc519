"""That a borrower still has to confirm the briefing ahead of a booking."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings import briefing
from kitshare.people.models import Member
from kitshare.web.home.need import Need
from kitshare.web.templatetags.kitshare import day

SOON: Final = timedelta(days=7)


def of_briefing(member: Member, today: date) -> Iterator[Need]:
    """Once, for the soonest of the bookings for which this member signs."""
    mine = briefing.unbriefed().filter(borrower=member, back_on__gt=today).order_by("out_on", "pk")
    booking = mine.select_related("village").first()
    if booking is None:
        return
    text = _("Read the briefing and confirm it before %(village)s collects the kit on %(day)s.")
    yield Need(
        rank=2 if booking.out_on <= today + SOON else 5,
        tone="care" if booking.out_on <= today + SOON else "plum",
        word=_("briefing"),
        text=text % {"village": booking.village.name, "day": day(booking.out_on)},
        address=reverse("briefing:read"),
        deed=_("Read and confirm"),
    )
