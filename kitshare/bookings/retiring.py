"""Taking a machine or a kit out of use, which needs to know what is promised."""

from collections.abc import Iterable
from datetime import date, datetime

from django.utils.dateformat import format as dateformat
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.days import lock_machines
from kitshare.bookings.models import HOLDING, Booking
from kitshare.engine import deed
from kitshare.kits import actions as kits
from kitshare.kits.models import Kit, Machine
from kitshare.kits.saving import KitsRefused
from kitshare.people.models import Member

NAMED = 3


class StillPromised(KitsRefused):
    """Bookings hold the machine, or it is out with a village."""

    def __init__(self, name: str, bookings: list[Booking]) -> None:
        self.bookings = bookings
        named = "; ".join(f"{one.village}, {dateformat(one.out_on, 'D j M Y')}" for one in bookings[:NAMED])
        more = len(bookings) - NAMED
        if more > 0:
            named += ngettext(" and %(count)s more", " and %(count)s more", more) % {"count": more}
        message = _("%(name)s is promised: %(bookings)s. Move or call off what is ahead, and wait for what is out.")
        super().__init__(message % {"name": name, "bookings": named})


def promises_of(machines: Iterable[Machine]) -> list[Booking]:
    """The bookings that hold any of some machines, the nearest first."""
    held = Booking.objects.filter(machines__in=list(machines), stage__in=HOLDING)
    return list(held.select_related("village").distinct().order_by("out_on", "pk"))


def _refuse_if_promised(name: str, machines: Iterable[Machine]) -> None:
    if bookings := promises_of(machines):
        raise StillPromised(name, bookings)


@deed
def retire_machine(*, machine: Machine, by: Member, at: datetime, today: date, reason: str = "") -> None:
    """Take a machine out of use, unless somebody counts on it."""
    _refuse_if_promised(machine.name, lock_machines([machine.pk]))
    kits.retire_machine(machine=machine, by=by, at=at, today=today, reason=reason)


@deed
def retire_kit(*, kit: Kit, by: Member, at: datetime, today: date, reason: str = "") -> None:
    """Take a kit and its machines out of use, unless somebody counts on one of them."""
    _refuse_if_promised(kit.name, lock_machines(kit.machines.values_list("pk", flat=True)))
    kits.retire_kit(kit=kit, by=by, at=at, today=today, reason=reason)
