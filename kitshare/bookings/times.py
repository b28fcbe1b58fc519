"""Times of day at which people meet over a booking. The days are the promise; the times say when on them.

A time is local to the scheme. A moment is worked out from it only where one is needed, so that a booking made in summer
for a day in winter still means what was said.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, tzinfo

from django.db import models
from django.utils.translation import gettext as _

from kitshare.bookings.models import BookedDay, Booking, DayKind
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.words import day_at, machines_in_words
from kitshare.kits.models import Machine
from kitshare.people.models import Scheme
from kitshare.rules.periods import ONE_DAY, Period


class TimesCross(BookingRefused):
    """Two villages meet the same machines on one day, and the first would bring them after the second comes."""

    def __init__(self, other: Booking, machines: Sequence[Machine], *, comes_before: bool) -> None:
        words = {
            "village": other.village.name,
            "machines": machines_in_words(machines),
            "back": day_at(other.back_on, other.back_time),
            "out": day_at(other.out_on, other.out_time),
        }
        if comes_before:
            sentence = _("%(village)s brings %(machines)s back on %(back)s. Collect at that time or later.")
        else:
            sentence = _("%(village)s collects %(machines)s on %(out)s. Be back by that time or earlier.")
        super().__init__(sentence % words)
        self.field = "out_time" if comes_before else "back_time"
        self.other = other


def moment_of(day: date, at: time, zone: tzinfo) -> datetime:
    """The moment, in UTC, at which the clocks of a zone show a time.

    Where the clocks go back and show it twice, the first; where they go forward and leave it out, as long after the
    change as it would have been before (PEP 495).
    """
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def usual(out_time: time | None, back_time: time | None) -> tuple[time, time]:
    """The times given, and the scheme's usual ones for those that were not."""
    scheme = Scheme.objects.current() or Scheme()
    return out_time or scheme.out_time, back_time or scheme.back_time


def check_in_order(
    *,
    machines: Sequence[Machine],
    period: Period,
    out_time: time,
    back_time: time,
    besides: Booking | None = None,
) -> None:
    """Raise TimesCross where others bring a machine after it is collected that day, or come before it is back."""
    if met := _met(machines, period.start - ONE_DAY, besides, back_on=period.start, back_time__gt=out_time):
        raise TimesCross(*met, comes_before=True)
    if met := _met(machines, period.end, besides, out_on=period.end, out_time__lt=back_time):
        raise TimesCross(*met, comes_before=False)


def _met(
    machines: Sequence[Machine], day: date, besides: Booking | None, **facts: date | time
) -> tuple[Booking, list[Machine]] | None:
    """The first booking of such facts that has some of the machines on a day, and these machines."""
    found = Booking.objects.filter(**facts, days__in=BookedDay.objects.filter(_on(machines, day)))
    if besides is not None:
        found = found.exclude(pk=besides.pk)
    other = found.select_related("village").order_by("pk").first()
    if other is None:
        return None
    return other, list(Machine.objects.filter(days__in=other.days.filter(_on(machines, day))).order_by("pk"))


def _on(machines: Sequence[Machine], day: date) -> models.Q:
    return models.Q(machine__in=machines, day=day, kind=DayKind.BOOKED)
