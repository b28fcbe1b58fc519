"""Bookings that wait for a kit which should be back and is not. Asked, never stored: so it cannot go stale."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.words import day_in_words, machines_in_words
from kitshare.kits.models import Machine

# A booking this many days ahead is in danger from a kit that is late now; a later one has time, and is not alarmed.
REACH: Final = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A booking still to go out, the booking from which its machines have not come back, and which those are."""

    booking: Booking
    late: Booking
    machines: Sequence[Machine]

    def __str__(self) -> str:
        words = {
            "machines": machines_in_words(self.machines),
            "village": self.late.village.name,
            "day": day_in_words(self.late.back_on),
        }
        return _("%(machines)s: not back from %(village)s, due on %(day)s.") % words


def waits(today: date) -> list[Wait]:
    """Each booking that a late kit puts at risk, the soonest first. One query where nothing is late, else four."""
    late = list(Booking.objects.overdue(today).with_people().order_by("back_on", "pk"))
    if not late:
        return []
    by_machine = {machine.pk: booking for booking in late for machine in booking.machines.all()}
    ahead = Booking.objects.ahead().filter(machines__in=by_machine, out_on__lte=today + REACH, back_on__gt=today)
    found: list[Wait] = []
    for booking in ahead.distinct().with_people().order_by("out_on", "pk"):
        missing: dict[int, list[Machine]] = {}
        for machine in booking.machines.all():
            if machine.pk in by_machine:
                missing.setdefault(by_machine[machine.pk].pk, []).append(machine)
        found += [Wait(booking=booking, late=by_machine[each[0].pk], machines=each) for each in missing.values()]
    return found


def waits_of(booking: Booking, today: date) -> list[Wait]:
    """What one booking waits for."""
    return [wait for wait in waits(today) if wait.booking.pk == booking.pk] if booking.is_ahead else []
