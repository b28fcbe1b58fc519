"""The briefing before the first pickup of a season: asked, confirmed point by point, and changed by the scheme."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from kitshare.bookings.briefing_models import TEXT_VERSION, BriefingRead, BriefingSettings, confirmed, holds_pickups
from kitshare.bookings.briefing_text import OWN, POINTS, Point
from kitshare.bookings.models import AHEAD, Booking, BookingQuerySet, Season
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change
from kitshare.people.models import Member


class BriefingRefused(Exception):
    """Why a briefing is not confirmed. The message is fit to show."""


class PointsOpen(BriefingRefused):
    """Not every point was ticked."""

    def __init__(self, keys: Collection[str]) -> None:
        super().__init__(_("Each point is confirmed by itself. Read and tick those that are still open."))
        self.keys = set(keys)


class WordsChanged(BriefingRefused):
    """The words were changed after the page was opened."""

    def __init__(self) -> None:
        super().__init__(_("The words were changed after you opened them. Read them as they are now, and tick again."))


class NotForThem(BriefingRefused):
    """Somebody would confirm for another, and does not run the scheme."""

    def __init__(self) -> None:
        super().__init__(_("Each confirms the briefing for themselves; a coordinator may write down one on paper."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The briefing as it is in force."""

    version: str
    edition: int
    points: list[Point]
    holds_pickup: bool


def words_in_force() -> Words:
    """The points with the scheme's own words, if it has any; one query."""
    settings = BriefingSettings.objects.first() or BriefingSettings()
    own = [Point(OWN, _("Here with us"), (settings.own_words,))] if settings.own_words else []
    return Words(
        version=str(settings), edition=settings.edition, points=[*POINTS, *own], holds_pickup=settings.holds_pickup
    )


def season_to_brief_for(today: date) -> Season | None:
    """The season that is on, or the next one; none after the last."""
    season = Season.objects.current_or_next(today)
    return season if season is not None and season.closes_on >= today else None


def reading(*, member: Member, season: Season, words: Words) -> BriefingRead | None:
    """That this member confirmed the words in force for a season, if so."""
    of = {"member": member, "season": season, "text_version": TEXT_VERSION, "edition": words.edition}
    return BriefingRead.objects.filter(**of).select_related("by").first()


def unbriefed() -> BookingQuerySet:
    """Bookings still to go out within a season, whose borrower has not confirmed the words in force for it."""
    covering = Season.objects.filter(opens_on__lte=OuterRef("out_on"), closes_on__gte=OuterRef("out_on"))
    found: BookingQuerySet = Booking.objects.filter(~confirmed(), Exists(covering), stage__in=AHEAD)
    return found


def is_open(booking: Booking) -> bool:
    """Whether its borrower still has to confirm the briefing."""
    return unbriefed().filter(pk=booking.pk).exists()


def holds(booking: Booking) -> bool:
    """Whether its pickup waits for that."""
    return unbriefed().filter(holds_pickups(), pk=booking.pk).exists()


@deed
def confirm_briefing(
    *, member: Member, season: Season, points: Collection[str], version: str, by: Member, at: datetime
) -> BriefingRead:
    """Write down that a member confirmed each point for a season. The same again is the same.

    A coordinator may do it for somebody with whom they went through it on paper. Raises BriefingRefused.
    """
    if by.pk != member.pk and not by.coordinates:
        raise NotForThem
    words = words_in_force()
    if version != words.version:
        raise WordsChanged
    if still_open := {point.key for point in words.points} - set(points):
        raise PointsOpen(still_open)
    if before := reading(member=member, season=season, words=words):
        return before
    read = BriefingRead(
        member=member,
        season=season,
        text_version=TEXT_VERSION,
        edition=words.edition,
        points=",".join(point.key for point in words.points),
        on_paper=by.pk != member.pk,
        by=by,
        at=at,
    )
    try:
        with transaction.atomic():
            read.save(force_insert=True)
    except IntegrityError:  # confirmed twice at once
        return BriefingRead.objects.get(member=member, season=season, text_version=TEXT_VERSION, edition=words.edition)
    text = _("%(member)s confirmed the briefing for %(season)s, point by point (version %(version)s).")
    if read.on_paper:
        text = _("Went through the briefing for %(season)s with %(member)s, point by point (version %(version)s).")
    said = {"member": member, "season": season, "version": words.version}
    logbook.write(deed="briefing_confirmed", text=text % said, about=[member, season], by=by, at=at)
    return read


@deed
def change_briefing(
    *, own_words: str, holds_pickup: bool, by: Member, at: datetime, seen: int | None = None
) -> BriefingSettings:
    """Change what the scheme adds, and what waits for it. Other own words are asked for anew, of everybody."""
    BriefingSettings.objects.get_or_create(pk=1)
    settings = BriefingSettings.objects.select_for_update().get(pk=1)
    before = change(settings, own_words=own_words, holds_pickup=holds_pickup)
    if not before:
        return settings
    logbook.check_unchanged(settings, seen=seen, by_deeds=["briefing_changed"])
    said = []
    if "own_words" in before:
        settings.edition += 1
        said.append(_("Changed the scheme's own words in the briefing: everybody is asked anew."))
    if "holds_pickup" in before:
        said.append(
            _("A pickup waits for the briefing now.") if holds_pickup else _("A pickup does not wait for the briefing.")
        )
    settings.save()
    logbook.write(deed="briefing_changed", text=" ".join(said), about=[settings], by=by, at=at)
    return settings
