"""The briefing of the demonstration: the scheme's own words, and two of those who sign who have confirmed them."""

from datetime import datetime

from kitshare.bookings import briefing
from kitshare.bookings.models import Season
from kitshare.people.models import Member

OWN_WORDS = (
    "The water tap of the Old Goods Shed is behind the scales; turn it off when you leave.\n"
    "Upper Larkenhoe: two people with the trailer, and never in the wet after dark."
)
HAVE = ("Agnes Pellowmere", "Leilani Crabbwater")


def confirm_briefings(season: Season, *, by: Member, at: datetime) -> None:
    """Write the words, and let those few confirm them."""
    briefing.change_briefing(own_words=OWN_WORDS, holds_pickup=False, by=by, at=at)
    words = briefing.words_in_force()
    for member in Member.objects.filter(name__in=HAVE).order_by("pk"):
        points = [point.key for point in words.points]
        briefing.confirm_briefing(member=member, season=season, points=points, version=words.version, by=member, at=at)
