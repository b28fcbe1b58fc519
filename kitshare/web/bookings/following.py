"""Days that are taken by no more than cleaning and drying: there a relay is a way."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from kitshare.bookings.models import DayKind
from kitshare.bookings.refusals import MachineTaken
from kitshare.bookings.words import day_in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """The village that is done with the same machines on the first day asked for."""

    village: str
    day: str

    @property
    def wish(self) -> str:
        """What the note then says to the coordinator."""
        words = {"village": self.village, "day": self.day}
        return _("We would take it straight from %(village)s on %(day)s, as a relay.") % words


def village_before(refusal: MachineTaken, asked: dict[str, Any]) -> Before | None:
    """Who could hand on directly; None where more than their cleaning and drying stands in the way."""
    bookings = {holding.booking.pk: holding.booking for holding in refusal.taken if holding.booking is not None}
    if len(bookings) != 1 or any(holding.kind != DayKind.CARE for holding in refusal.taken):
        return None
    first = next(iter(bookings.values()))
    chosen = {machine.pk for machine in asked["chosen"]}
    if first.back_on != asked["period"].start or chosen != set(first.machines.values_list("pk", flat=True)):
        return None
    return Before(village=first.village.name, day=day_in_words(first.back_on))
