"""What rows can be about before a season's first pickup: a briefing that whoever signs has not confirmed."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from functools import partial

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings import briefing
from kitshare.bookings.briefing_models import TEXT_VERSION, BriefingRead
from kitshare.bookings.models import Booking, Season
from kitshare.bookings.times import moment_of
from kitshare.reminders.ground import Ground, Outing
from kitshare.reminders.letters import short_day, thread_of
from kitshare.reminders.models import Kind
from kitshare.reminders.occasions import EVER, Occasion


def briefings(ground: Ground) -> Iterator[Occasion]:
    """The first booking of each season and borrower whose pickup is near, until it is confirmed. Two queries more."""
    first, last = ground.days(Kind.BRIEFING)
    near: dict[tuple[int, int], tuple[Outing, Season]] = {}
    for outing in ground.outings:
        booking = outing.booking
        season = _covering(ground.seasons, booking.out_on)
        if season is None or outing.stood.agreed_at == EVER or not first <= booking.out_on <= last:
            continue
        if ground.other_days or booking.is_ahead:
            near.setdefault((booking.borrower_id, season.pk), (outing, season))
    if not near:
        return
    words = briefing.words_in_force()
    read = _confirmed(near, words.edition)
    for key, (outing, season) in near.items():
        booking, stood = outing.booking, outing.stood
        yield Occasion(
            about=f"{season.pk}:{words.version}:{booking.pk}:{booking.out_on}",
            day=booking.out_on,
            subject=_("Read the briefing before the pickup on %(day)s, %(village)s") % _named(booking),
            template="briefing",
            thread=thread_of(booking),
            page=reverse("briefing:read"),
            booking=booking,
            since=stood.agreed_at,
            needed_by=moment_of(booking.out_on, booking.out_time, ground.zone),
            until=min(read.get(key, EVER), stood.out_at, stood.ended_at, ground.midnight_after(booking.out_on)),
            words=partial(dict, season=season, holds=words.holds_pickup),
        )


def _covering(seasons: Sequence[Season], day: date) -> Season | None:
    return next((season for season in seasons if season.opens_on <= day <= season.closes_on), None)


def _confirmed(near: dict[tuple[int, int], tuple[Outing, Season]], edition: int) -> dict[tuple[int, int], datetime]:
    """When each borrower confirmed the words in force for a season."""
    reads = BriefingRead.objects.filter(
        member__in={member for member, _season in near},
        season__in={season for _member, season in near},
        text_version=TEXT_VERSION,
        edition=edition,
    )
    return {(member, season): at for member, season, at in reads.values_list("member", "season", "at")}


def _named(booking: Booking) -> dict[str, str]:
    return {"day": short_day(booking.out_on), "village": booking.village.name}
