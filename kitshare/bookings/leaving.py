"""A village leaves the scheme: only when it holds no kit and none is promised to it."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from kitshare.bookings.days import lock_all_machines
from kitshare.bookings.models import HOLDING, Booking
from kitshare.engine import deed
from kitshare.people import actions as people
from kitshare.people.models import Member, Village


class VillageHoldsKit(Exception):
    """Machines are promised to the village, or with it."""

    def __init__(self, village: Village, bookings: Sequence[Booking]) -> None:
        sentence = _("%(name)s still has bookings: %(days)s. Call them off, or wait until the kit is back.")
        days = "; ".join(date_format(booking.out_on, "D j M Y") for booking in bookings)
        super().__init__(sentence % {"name": village.name, "days": days})
        self.bookings = bookings


def bookings_held(village: Village) -> list[Booking]:
    """The village's bookings that hold machines, soonest first."""
    return list(Booking.objects.filter(village=village, stage__in=HOLDING).order_by("out_on", "pk"))


@deed
def let_village_leave(*, village: Village, on: date, by: Member, at: datetime) -> Village:
    """Let a village go that holds nothing."""
    lock_all_machines()  # whoever books locks its machines first: their booking is seen, or they see that this one left
    village = Village.objects.select_for_update().get(pk=village.pk)
    held = bookings_held(village)
    if held:
        raise VillageHoldsKit(village, held)
    return people.village_leaves(village=village, on=on, by=by, at=at)
