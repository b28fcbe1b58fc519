"""What there is to know for a round, or for a look at other days: asked once, and only where a row needs it.

It only reads.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import Q

from kitshare.bookings.models import AHEAD, Booking, Season, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.times import moment_of
from kitshare.kits.models import Machine
from kitshare.people.models import Scheme
from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.occasions import ALWAYS, EVER, People
from kitshare.reminders.stages import Stood, stood
from kitshare.rules.periods import ONE_DAY
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault

RELAYS: Final = (
    *("relay_from__first__village", "relay_from__first__borrower"),
    *("relay_onwards__second__village", "relay_onwards__second__borrower"),
)
MOST_BOOKINGS: Final = 1000  # of a look at other days; no scheme has so many in a season
LOOKS_BACK: Final = timedelta(days=100)  # further back than any row reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Outing:
    """A booking, and how it stood when."""

    booking: Booking
    stood: Stood


@dataclass(frozen=True, kw_only=True)
class Ground:
    """From which moment to which somebody looks, by which rows, and what is found there.

    A round looks at one moment, and at what is so now. `other_days` asks what was so then, which costs more.
    """

    scheme: Scheme
    rows: tuple[ReminderRow, ...]
    first: datetime
    last: datetime
    other_days: bool = False
    people: People = field(default_factory=People)

    @property
    def zone(self) -> ZoneInfo:
        return self.scheme.zone

    @cached_property
    def today(self) -> date:
        """The day on which it ends: of a round, today."""
        return self.last.astimezone(self.zone).date()

    def rows_of(self, kind: Kind) -> list[ReminderRow]:
        return [row for row in self.rows if row.kind == kind]

    def row_of(self, kind: Kind) -> ReminderRow | None:
        """The one row of a kind that has only one, if it is on."""
        return next(iter(self.rows_of(kind)), None)

    def days(self, kind: Kind) -> tuple[date, date]:
        """The first and the last day by which rows of a kind may have come to be due.

        Of a round the first is long ago: what is still so is made up for.
        """
        offsets = [row.days for row in self.rows_of(kind) if row.days is not None]
        last = self.today - timedelta(days=min(offsets, default=0))
        return self.first.astimezone(self.zone).date() - LOOKS_BACK, last

    def midnight_after(self, day: date) -> datetime:
        """The moment at which a day is over."""
        return moment_of(day + ONE_DAY, time(), self.zone)

    @cached_property
    def outings(self) -> list[Outing]:
        """Bookings still to go out or out. Both are few, however long the history; of other days, those near them."""
        wanted = Q(stage__in=AHEAD, out_on__gte=self.today) | Q(stage=Stage.OUT)
        if self.other_days:
            days = (self.first.date() - LOOKS_BACK, self.today + LOOKS_BACK)
            wanted = Q(out_on__range=days) & ~Q(stage__in=[Stage.WAITING, Stage.DECLINED])
        found = Booking.objects.filter(wanted).select_related("village", "borrower", *RELAYS)
        bookings = list(found.prefetch_related("machines__kit__depot").order_by("out_on", "pk")[:MOST_BOOKINGS])
        if not self.other_days:
            return [Outing(booking=booking, stood=now_stands(booking)) for booking in bookings]
        stages = stood(bookings, zone=self.zone)
        return [Outing(booking=booking, stood=stages[booking.pk]) for booking in bookings]

    @property
    def bookings(self) -> list[Booking]:
        return [outing.booking for outing in self.outings]

    @cached_property
    def faults(self) -> dict[int, list[Fault]]:
        """The faults that stop each machine which is still to go out, by machine."""
        return fitness.faults_by_machine(self._machines_ahead())

    @cached_property
    def tests(self) -> dict[int, list[CarePlan]]:
        """The safety tests due in the next weeks of each machine which is still to go out, by machine."""
        reach = max([NOTICE, *(timedelta(days=-(row.days or 0)) for row in self.rows_of(Kind.TEST_FIRST))])
        found: dict[int, list[CarePlan]] = {}
        for plan in fitness.overdue_tests(self._machines_ahead(), on=self.today + reach):
            found.setdefault(plan.machine_id, []).append(plan)
        return found

    @cached_property
    def seasons(self) -> list[Season]:
        return list(Season.objects.order_by("opens_on", "pk"))

    def faults_of(self, booking: Booking) -> list[Fault]:
        found = (fault for machine in booking.machines.all() for fault in self.faults.get(machine.pk, []))
        return list({fault.pk: fault for fault in found}.values())

    def tests_before(self, booking: Booking) -> list[CarePlan]:
        """The safety tests that will be overdue when it goes out."""
        tests = [plan for machine in booking.machines.all() for plan in self.tests.get(machine.pk, [])]
        return [plan for plan in tests if fitness.will_be_overdue(plan, out_on=booking.out_on, today=self.today)]

    def _machines_ahead(self) -> set[Machine]:
        return {machine for booking in self.bookings if booking.is_ahead for machine in booking.machines.all()}


def now_stands(booking: Booking) -> Stood:
    """How a booking stands now, as if it always had."""
    is_out = booking.stage == Stage.OUT
    return Stood(
        agreed_at=ALWAYS if is_out or booking.stage == Stage.AGREED else EVER,
        out_at=ALWAYS if is_out else EVER,
        back_at=EVER,
        ended_at=EVER,
    )


def relay_at(booking: Booking, end: str, *, also_done: bool = False) -> Relay | None:
    """The relay at one end of a booking, "relay_from" or "relay_onwards": one that is still to come, unless told."""
    relay: Relay | None = getattr(booking, end, None)
    return relay if relay is not None and (also_done or relay.done_at is None) else None


def whole(relay: Relay, booking: Booking) -> Relay:
    """The relay with both its bookings at hand: the one from which it was read is not read again."""
    if relay.first.pk == booking.pk:
        relay.first = booking
    else:
        relay.second = booking
    return relay


def names(things: Iterable[object]) -> list[str]:
    """Each name once, in order."""
    return sorted({str(thing) for thing in things})
