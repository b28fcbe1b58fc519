"""Parts that two machines share: they cannot be with two villages at once.

Only vital and guard parts keep a booking from being made. A machine may go without any other shared part, which then
stays on the list of the booking that has it.
"""

from collections.abc import Iterable, Sequence

from django.db import models
from django.db.models import Q

from kitshare.bookings.models import BookedDay, Booking, DayKind
from kitshare.kits.models import Machine, Part
from kitshare.rules.checklists import NEEDED_TO_RUN
from kitshare.rules.periods import Period


def home_keys(keys: Iterable[int]) -> set[int]:
    """The machines to which parts belong that serve some of these: locked with them, no two can take one part."""
    return set(Part.objects.filter(also_serves__in=set(keys), retired_on=None).values_list("machine_id", flat=True))


def partners(machines: Sequence[Machine]) -> dict[int, Part]:
    """Other machines that need a vital or a guard part which these need too, by key, with that part. One query."""
    here = {machine.pk for machine in machines}
    through = Part.also_serves.through.objects
    concerned = Q(part__machine__in=here) | Q(part__in=through.filter(machine__in=here).values("part"))
    shared = through.filter(concerned, part__kind__in=NEEDED_TO_RUN, part__retired_on=None).select_related("part")
    found: dict[int, Part] = {}
    for row in shared.order_by("part_id", "machine_id"):
        for key in {row.part.machine_id, row.machine_id} - here:
            found.setdefault(key, row.part)
    return found


def days_of_partners(
    partners: dict[int, Part], period: Period, besides: Booking | None
) -> "models.QuerySet[BookedDay]":
    """The days of a period on which a village has a part with another machine."""
    rows = BookedDay.objects.filter(
        machine__in=partners, kind=DayKind.BOOKED, day__range=(period.start, period.last_day)
    )
    return rows if besides is None else rows.exclude(booking=besides)
