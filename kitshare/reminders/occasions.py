"""What rows can be about: a thing with a day, and from when until when it is so. And whom they are for."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Final

from kitshare.bookings.models import Booking
from kitshare.people.models import Member
from kitshare.reminders.models import Addressed

EVER: Final = datetime.max.replace(tzinfo=UTC)
ALWAYS: Final = datetime.min.replace(tzinfo=UTC)

Words = Mapping[str, object]


def no_words() -> Words:
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """Something to remind of: by which day it goes, since when and until when it is so, and how its letter is made.

    `about` is the part of the message's key that names the thing; where it goes by a moment, `ends_at` says which, and
    `time_left` is the most of the time before it that a reminder may leave. The words of the body are asked for when
    the letter is written, and not before: they may cost something. After `needed_by` it is of no use to be told.
    """

    about: str
    day: date
    subject: str
    template: str
    thread: str
    page: str
    booking: Booking | None = None
    since: datetime = ALWAYS
    until: datetime = EVER
    needed_by: datetime | None = None
    ends_at: datetime | None = None
    time_left: timedelta = timedelta.max
    words: Callable[[], Words] = no_words

    @property
    def borrower(self) -> Member | None:
        return self.booking.borrower if self.booking else None


@dataclass(slots=True, kw_only=True)
class People:
    """Whom rows may be for. Each group is asked for once, and only where a row is for it."""

    _known: dict[str, list[Member]] = field(default_factory=dict)

    def of(self, addressed: str, borrower: Member | None) -> list[Member]:
        """Everybody whom a row is for, each once."""
        own = [borrower] if borrower else []
        if addressed == Addressed.BORROWER:
            return own
        if addressed == Addressed.BOTH:
            return [*own, *(one for one in self._group(Addressed.COORDINATORS) if one != borrower)]
        return self._group(addressed)

    def _group(self, name: str) -> list[Member]:
        if name not in self._known:
            self._known[name] = self._asked_for(name)
        return self._known[name]

    def _asked_for(self, name: str) -> list[Member]:
        if name == Addressed.MAINTAINERS:
            # Where nobody mends, the coordinators are told.
            return list(Member.objects.maintaining()) or self._group(Addressed.COORDINATORS)
        if name == Addressed.BORROWERS:
            return list(Member.objects.active().filter(borrows=True).order_by("pk"))
        if name == Addressed.EVERYBODY:
            return list(Member.objects.active().order_by("pk"))
        return list(Member.objects.coordinating())
