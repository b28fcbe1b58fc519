"""Machines that come into use, or come to live elsewhere: closed days apply to them as to those beside them."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Unpack

from django.utils.translation import gettext as _

from kitshare.bookings import closing
from kitshare.engine import deed
from kitshare.kits import actions as kits
from kitshare.kits.models import Kit, Machine
from kitshare.kits.saving import KitFacts, KitsRefused, MachineFacts
from kitshare.people.models import Member, Scheme


class PromisedOnClosedDays(KitsRefused):
    """The depot to which a kit should move is closed on days for which the kit is promised."""

    def __init__(self, refusal: closing.ClosesOverBookings) -> None:
        held = " ".join(map(str, refusal.in_the_way))
        super().__init__(_("Closed days there meet bookings. Move or call those off first. %(held)s") % {"held": held})
        self.in_the_way = refusal.in_the_way


@deed
def add_machine(*, kit: Kit, by: Member, at: datetime, today: date, **facts: Unpack[MachineFacts]) -> Machine:
    """Add a machine to a kit, closed on the days on which its depot is."""
    Scheme.objects.select_for_update().first()
    machine = kits.add_machine(kit=kit, by=by, at=at, **facts)
    _settle([machine], today)
    return machine


@deed
def add_starter_machines(*, kit: Kit, choices: Iterable[str], by: Member, at: datetime, today: date) -> list[Machine]:
    """Add machines from the starter list, closed on the days on which their depot is."""
    Scheme.objects.select_for_update().first()
    added = kits.add_starter_machines(kit=kit, choices=choices, by=by, at=at)
    _settle(added, today)
    return added


@deed
def bring_back_machine(*, machine: Machine, by: Member, at: datetime, today: date) -> None:
    """Take a retired machine into use again, with the closed days that have come meanwhile."""
    Scheme.objects.select_for_update().first()
    kits.bring_back_machine(machine=machine, by=by, at=at)
    _settle([machine], today)


@deed
def bring_back_kit(*, kit: Kit, by: Member, at: datetime, today: date) -> None:
    """Take a retired kit into use again, with the closed days that have come meanwhile."""
    Scheme.objects.select_for_update().first()
    kits.bring_back_kit(kit=kit, by=by, at=at)
    _settle(kit.machines.all(), today)


@deed
def change_kit(
    *, kit: Kit, by: Member, at: datetime, today: date, seen: int | None = None, **facts: Unpack[KitFacts]
) -> None:
    """Change a kit. At another depot the closed days are that depot's."""
    Scheme.objects.select_for_update().first()
    kits.change_kit(kit=kit, by=by, at=at, seen=seen, **facts)
    if "depot" in facts:
        _settle(kit.machines.all(), today)


def _settle(machines: Iterable[Machine], today: date) -> None:
    try:
        closing.settle(list(machines), today=today)
    except closing.ClosesOverBookings as refusal:
        raise PromisedOnClosedDays(refusal) from refusal
