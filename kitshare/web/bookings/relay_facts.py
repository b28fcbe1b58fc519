"""What the page of a booking shows about relays."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from kitshare.bookings.models import AHEAD, Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.people.models import Member

# A relay moves the second booking by a few days; what ends further away is another season's business.
NEAR: Final = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayFacts:
    """The relays at either end of a booking, and what this member may do about them."""

    booking: Booking
    into: Relay | None
    onwards: Relay | None
    may_arrange: bool
    may_change: bool

    @property
    def pending(self) -> list[Relay]:
        return [relay for relay in (self.into, self.onwards) if relay is not None and relay.done_at is None]

    @property
    def any(self) -> list[Relay]:
        return [relay for relay in (self.into, self.onwards) if relay is not None]


def relays_of(booking: Booking, member: Member, today: date) -> RelayFacts:
    """For the booking's page; three queries at most."""
    found = list(Relay.objects.of(booking).with_bookings())
    into = next((relay for relay in found if relay.second.pk == booking.pk), None)
    asks = member.coordinates and into is None and booking.stage in AHEAD
    return RelayFacts(
        booking=booking,
        into=into,
        onwards=next((relay for relay in found if relay.first.pk == booking.pk), None),
        may_arrange=bool(asks and firsts_for(booking, today)),
        may_change=member.coordinates,
    )


def firsts_for(booking: Booking, today: date) -> list[Booking]:
    """The bookings of the same machines that end near this one's first day and hand on to nobody yet."""
    wanted = {machine.pk for machine in booking.machines.all()}
    ends = (max(today, booking.out_on - NEAR), booking.out_on + NEAR)
    held = Booking.objects.filter(stage__in=[Stage.AGREED, Stage.OUT], back_on__range=ends)
    held = held.exclude(pk__in=Relay.objects.values("first"))
    near = held.filter(machines__in=wanted).exclude(pk=booking.pk).distinct()
    found = near.select_related("village").prefetch_related("machines").order_by("back_on", "pk")
    return [one for one in found if {machine.pk for machine in one.machines.all()} == wanted]
