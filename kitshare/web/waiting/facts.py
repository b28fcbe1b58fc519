"""What the pages show of the waiting list: each entry's place, why it has that, and how it stands."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings import waiting_list
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.waiting_list import Entry
from kitshare.bookings.words import days_in_words
from kitshare.people.models import Member
from kitshare.web.templatetags.kitshare import moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One entry of the list in words."""

    entry: Entry
    every: Sequence[Entry] = field(repr=False)
    tone: str
    word: str
    text: str
    wanted: str
    why_here: str
    is_own: bool
    may_leave: bool
    may_overrule: bool

    @property
    def place(self) -> str:
        """The place among those who want some of the same days and machines; worked out for the rows that are shown."""
        before = len(waiting_list.ahead_of(self.entry, self.every))
        rivals = before + len(waiting_list.behind(self.entry, self.every))
        if rivals == 0:
            return _("first, nobody else waits for these")
        return _("%(number)d of %(all)d who wait for these") % {"number": before + 1, "all": rivals + 1}


def all_lines(member: Member) -> list[Line]:
    """The list as a member may see it, in order; how many are before each is counted over all of them."""
    every = waiting_list.entries(Booking.objects.all())
    own = set(member.villages.values_list("pk", flat=True))
    sees_all = member.coordinates or member.maintains
    return [_line(entry, every, member, own) for entry in every if sees_all or entry.booking.village_id in own]


def line_of(booking: Booking, member: Member) -> Line | None:
    """One booking's line; None when it does not wait."""
    if booking.stage != Stage.WAITING:
        return None
    every = waiting_list.entries(Booking.objects.all())
    own = set(member.villages.values_list("pk", flat=True))
    return next((_line(entry, every, member, own) for entry in every if entry.booking.pk == booking.pk), None)


def _line(entry: Entry, every: Sequence[Entry], member: Member, own_villages: set[int]) -> Line:
    tone, word, text = _standing(entry)
    is_own = entry.booking.village_id in own_villages
    return Line(
        entry=entry,
        every=every,
        tone=tone,
        word=word,
        text=text,
        wanted=_wanted(entry),
        why_here=_why_here(entry),
        is_own=is_own,
        may_leave=member.coordinates or is_own,
        may_overrule=member.coordinates,
    )


def _standing(entry: Entry) -> tuple[str, str, str]:
    if entry.offer is not None:
        words = {"days": days_in_words(entry.offer.period), "until": moment(entry.offer.until)}
        return "care", _("offered"), _("%(days)s, to be answered by %(until)s.") % words
    if entry.why_not:
        return "stop", _("does not fit now"), entry.why_not
    if entry.place.rests:
        return "quiet", _("was asked"), _("Did not take the days. Asked again once they were taken and are freed anew.")
    return "plum", _("waits"), ""


def _wanted(entry: Entry) -> str:
    words = days_in_words(entry.wait.wanted)
    if entry.wait.play_days == 0:
        return words
    said = ngettext(
        "%(days)s, or a day earlier or later", "%(days)s, or up to %(play)d days earlier or later", entry.wait.play_days
    )
    return said % {"days": words, "play": entry.wait.play_days}


def _why_here(entry: Entry) -> str:
    place = entry.place
    asked = _("On the list since %(at)s.") % {"at": moment(entry.booking.asked_at)}
    if place.moved_by is None:
        return asked
    words = {"who": place.moved_by.name, "at": moment(place.moved_at), "reason": place.moved_reason}
    return f"{asked} {_('Moved by %(who)s, %(at)s: %(reason)s') % words}"
