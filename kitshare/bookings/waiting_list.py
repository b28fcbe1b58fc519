"""The waiting list as it stands: who waits, in which order, and whether they fit. It only reads.

Whether somebody fits is never stored: a fault that is mended, a season that is lengthened or a depot that opens again
changes it without a word to the list.
"""

import functools
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import F, Prefetch
from django.utils.translation import gettext as _

from kitshare.bookings.models import BookedDay, Booking, BookingQuerySet, Season, Stage
from kitshare.bookings.waiting_models import Offer, WaitingPlace
from kitshare.bookings.words import machines_in_words
from kitshare.kits.models import Machine
from kitshare.outbox.speaking import Said
from kitshare.people.models import Village
from kitshare.rules.periods import Period
from kitshare.rules.turns import MachineDay, Wait, compete
from kitshare.upkeep import fitness

# The season of somebody whose days lie in none: no spell fits it, and `why_not` says so.
NO_SEASON: Final = Period(start=date.min, end=date.min.replace(day=2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One booking that waits; `why_not` says what keeps it from being offered anything, if something does.

    `say_why_not` says it once more in the language of whoever is told.
    """

    booking: Booking
    place: WaitingPlace
    machines: list[Machine]
    offer: Offer | None
    why_not: str
    say_why_not: Said
    wait: Wait

    @property
    def last_start(self) -> date:
        """The last day on which it could still go out."""
        return self.wait.wanted.shifted(self.wait.play_days).start


def wanted_machines() -> dict[int, set[int]]:
    """The machines that each booking on the list asks for, by keys: read from the list, however long the history."""
    pairs = Booking.machines.through.objects.filter(
        booking__in=WaitingPlace.objects.values("pk"), booking__stage=Stage.WAITING
    )
    wanted: defaultdict[int, set[int]] = defaultdict(set)
    for booking, machine in pairs.values_list("booking_id", "machine_id"):
        wanted[booking].add(machine)
    return wanted


def in_order(bookings: BookingQuerySet | None = None) -> BookingQuerySet:
    """The bookings that wait, the first in the order first."""
    found = Booking.objects.all() if bookings is None else bookings
    return found.waiting().filter(pk__in=WaitingPlace.objects.values("pk")).order_by("waiting_place__place", "pk")


def entries(bookings: BookingQuerySet) -> list[Entry]:
    """The bookings that wait among some, in order, with all that says whether they fit. Six queries, however many."""
    machines = Machine.objects.select_related("kit").order_by("kit__name", "kit_id", "position", "pk")
    found = list(
        in_order(bookings)
        .select_related("village", "borrower", "waiting_place__moved_by")
        .prefetch_related(
            Prefetch("machines", machines), Prefetch("offers", Offer.objects.open(), to_attr="open_offers")
        )
    )
    if not found:
        return []
    seasons = list(Season.objects.order_by("opens_on"))
    stopped = fitness.faults_by_machine({m for one in found for m in one.machines.all()})
    signing = set(
        Village.borrowers.through.objects.filter(
            village__in={one.village_id for one in found}, member__is_active=True
        ).values_list("village_id", "member_id")
    )
    return [_entry(one, seasons, stopped, signing) for one in found]


def _entry(
    booking: Booking, seasons: Sequence[Season], stopped: Collection[int], signing: Collection[tuple[int, int]]
) -> Entry:
    place: WaitingPlace = booking.waiting_place
    place.booking = booking
    machines = list(booking.machines.all())
    season = next((one for one in seasons if one.period.contains(place.wanted_on)), None)
    offers: list[Offer] = booking.open_offers  # type: ignore[attr-defined]
    wait = Wait(
        key=booking.pk,
        wanted=place.wanted,
        care_days={machine.pk: machine.kit.care_days for machine in machines},
        season=season.period if season else NO_SEASON,
        play_days=place.play_days,
        rests=place.rests,
    )
    say_why_not = functools.partial(_why_not, booking, wait, machines, stopped, signing)
    return Entry(
        booking=booking,
        place=place,
        machines=machines,
        offer=offers[0] if offers else None,
        why_not=say_why_not(),
        say_why_not=say_why_not,
        wait=wait,
    )


def _why_not(
    booking: Booking,
    wait: Wait,
    machines: Sequence[Machine],
    stopped: Collection[int],
    signing: Collection[tuple[int, int]],
) -> str:
    """What keeps it from being offered any day, in a sentence; nothing where it fits."""
    if booking.village.left_on is not None:
        return _("%(village)s has left the scheme.") % {"village": booking.village.name}
    if (booking.village_id, booking.borrower_id) not in signing:
        words = {"name": booking.borrower.name, "village": booking.village.name}
        return _("%(name)s no longer signs for %(village)s.") % words
    if gone := [machine for machine in machines if machine.retired_on or machine.kit.retired_on]:
        return _("No longer lent: %(machines)s.") % {"machines": machines_in_words(gone)}
    if aside := [machine for machine in machines if machine.pk in stopped]:
        return _("Set aside until mended and released: %(machines)s.") % {"machines": machines_in_words(aside)}
    if not any(spell.fits_in(wait.season) for spell in wait.spells):
        return _("The days lie outside the season.")
    return ""


def ahead_of(entry: Entry, every: Iterable[Entry]) -> list[Entry]:
    """Those before it in the order who want some of the same days and machines, the first first."""
    before = []
    for other in every:
        if other.booking.pk == entry.booking.pk:
            break
        if compete(entry.wait, other.wait):
            before.append(other)
    return before


def behind(entry: Entry, every: Iterable[Entry]) -> list[Entry]:
    """Those after it in the order who want some of the same days and machines."""
    return ahead_of(entry, reversed(list(every)))[::-1]


def taken_days(some: Iterable[Entry], *, from_day: date) -> tuple[set[MachineDay], set[MachineDay]]:
    """The days on which their machines are spoken for: those promised to somebody, and all, offered ones included."""
    machines = {key for entry in some for key in entry.wait.care_days}
    rows = BookedDay.objects.filter(machine__in=machines, day__gte=from_day)
    promised, every = set(), set()
    for machine, day, stage in rows.annotate(stage=F("booking__stage")).values_list("machine_id", "day", "stage"):
        every.add((machine, day))
        if stage != Stage.WAITING:
            promised.add((machine, day))
    return promised, every
