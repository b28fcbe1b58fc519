"""Shifting all the bookings of a machine that are still to go by some days: all of them, or none.

Each booking keeps its length, its times and all its machines; two that hand on to each other by relay still do.
"""

import functools
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.db.models import Q
from django.utils.translation import gettext as _

from kitshare.bookings import days, notices, recording, relays, times
from kitshare.bookings.models import BookedDay, Booking, BookingQuerySet, Season
from kitshare.bookings.refusals import BookingRefused, DayIsPast, Holding, NotTheirs, OutsideSeason
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.words import days_in_words
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.rules import periods
from kitshare.rules.periods import Period

MOST_DAYS: Final = 60


class ShiftRefused(BookingRefused):
    """The bookings cannot be shifted so. `field` names what to correct, if anything typed is at fault."""


class ShiftNotSensible(ShiftRefused):
    """By no days, or by so many that it is most likely a slip."""

    field = "days"

    def __init__(self) -> None:
        super().__init__(_("Shift by 1 to %(most)d days.") % {"most": MOST_DAYS})


class NothingToShift(ShiftRefused):
    """No booking of the machine goes out from that day on."""

    field = "from_day"

    def __init__(self) -> None:
        super().__init__(_("From that day on no booking of this machine is still to go out."))


class ShiftChangedMeanwhile(ShiftRefused):
    """Other bookings, or other days, than those that were looked over."""

    def __init__(self) -> None:
        super().__init__(_("Bookings were made or changed after you looked it over. Look again."))


class ShiftBlocked(ShiftRefused):
    """Something stands in the way of at least one."""

    def __init__(self, obstacles: Sequence["Obstacle"]) -> None:
        super().__init__(" ".join([_("Something stands in the way. Nothing was shifted."), *map(str, obstacles)]))
        self.obstacles = list(obstacles)


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Why one of the bookings cannot be shifted."""

    booking: Booking
    why: str

    def __str__(self) -> str:
        words = {"village": self.booking.village.name, "days": days_in_words(self.booking.period), "why": self.why}
        return _("%(village)s, %(days)s: %(why)s") % words


@dataclass(frozen=True, slots=True, kw_only=True)
class Shifted:
    """One booking with its new days, and who is told."""

    booking: Booking
    machines: list[Machine]
    period: Period
    told: list[Member]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What a shift would do: in the order of the days."""

    moved: list[Shifted]
    obstacles: list[Obstacle]
    relays_ended: list[Relay]
    handing_on: frozenset[int]

    @property
    def seen(self) -> dict[int, int]:
        """The revision of each booking as it was looked at."""
        return {one.booking.pk: one.booking.revision for one in self.moved}

    @property
    def told(self) -> list[Member]:
        """Everybody who hears of it, once each."""
        return list({member.pk: member for one in self.moved for member in one.told}.values())


def look_at_shift(*, machine: Machine, by_days: int, from_day: date, by: Member, today: date) -> Shift:
    """What `shift_bookings` would do now, and what stands in its way, in as many queries for many bookings as for one.

    Raises ShiftRefused where there is nothing to look at.
    """
    _check(by_days=by_days, from_day=from_day, by=by, today=today)
    return _look(list(_found(machine, from_day)), by_days=by_days, by=by, today=today)


@deed
def shift_bookings(
    *, machine: Machine, by_days: int, from_day: date, seen: Mapping[int, int], by: Member, at: datetime, today: date
) -> Shift:
    """Give every booking of a machine that goes out from a day on days that are so much later, or earlier if negative.

    `seen` has the bookings that were looked over, each with its revision. Raises ShiftRefused, or the reason why one
    of them cannot have its new days; then all of them hold their old ones.
    """
    _check(by_days=by_days, from_day=from_day, by=by, today=today)
    concerned = Machine.objects.filter(bookings__in=_found(machine, from_day).values("pk"))
    days.lock_machines({machine.pk, *concerned.values_list("pk", flat=True)})
    bookings = list(_found(machine, from_day).select_for_update(of=("self",)))
    if {booking.pk: booking.revision for booking in bookings} != dict(seen):
        raise ShiftChangedMeanwhile
    shift = _look(bookings, by_days=by_days, by=by, today=today)
    if shift.obstacles:
        raise ShiftBlocked(shift.obstacles)
    _move(shift.moved, by=by, at=at, today=today)
    words = {"who": by.name, "machine": machine.name, "count": len(shift.moved), "days": by_days}
    text = _("%(who)s shifted all bookings of %(machine)s still to go (%(count)d) by %(days)+d days.")
    logbook.write(deed="bookings_shifted", text=text % words, about=[machine, machine.kit], by=by, at=at)
    return shift


def _check(*, by_days: int, from_day: date, by: Member, today: date) -> None:
    if not by.coordinates:
        raise NotTheirs
    if not 0 < abs(by_days) <= MOST_DAYS:
        raise ShiftNotSensible
    if from_day < today:
        refusal = DayIsPast(day=from_day)
        refusal.field = "from_day"
        raise refusal


def _found(machine: Machine, from_day: date) -> BookingQuerySet:
    """The bookings concerned, the soonest first."""
    found: BookingQuerySet = Booking.objects.ahead().filter(
        pk__in=Booking.objects.filter(machines=machine, out_on__gte=from_day).values("pk")
    )
    return found.with_people().order_by("out_on", "pk")


def _look(bookings: Sequence[Booking], *, by_days: int, by: Member, today: date) -> Shift:
    if not bookings:
        raise NothingToShift
    moved = [
        Shifted(
            booking=booking,
            machines=list(booking.machines.all()),
            period=booking.period.shifted(by_days),
            told=notices.told_of_other_days(booking=booking, by=by),
        )
        for booking in bookings
    ]
    keys = [booking.pk for booking in bookings]
    met = Relay.objects.filter(Q(first__in=keys) | Q(second__in=keys)).with_bookings().order_by("pk")
    relays_met = list(met)
    ended = [
        relay for relay in relays_met if relay.done_at is None and not {relay.first.pk, relay.second.pk} <= {*keys}
    ]
    handing_on = frozenset({relay.first.pk for relay in relays_met} - {relay.first.pk for relay in ended})
    obstacles = [*_outside(moved, today), *_held(moved, handing_on)]
    place = {key: number for number, key in enumerate(keys)}
    obstacles.sort(key=lambda one: place[one.booking.pk])
    return Shift(moved=moved, obstacles=obstacles, relays_ended=ended, handing_on=handing_on)


def _outside(moved: Iterable[Shifted], today: date) -> Iterable[Obstacle]:
    """Those that would begin in the past, or leave the season."""
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    for one in moved:
        within = [season for season in seasons if season.period.overlaps(one.booking.period)]
        if one.period.start < today:
            yield Obstacle(booking=one.booking, why=str(DayIsPast(day=one.period.start)))
        elif not any(one.period.fits_in(season.period) for season in seasons):
            yield Obstacle(booking=one.booking, why=str(OutsideSeason(season=within[0] if within else None)))


def _held(moved: Sequence[Shifted], handing_on: Collection[int]) -> Iterable[Obstacle]:
    """Those of whose new days something else has one: a booking that stays, its cleaning, a closed spell."""
    wanted: defaultdict[tuple[int, date], list[Booking]] = defaultdict(list)
    for one in moved:
        for machine in one.machines:
            care = 0 if one.booking.pk in handing_on else machine.kit.care_days
            for day in periods.held_days(one.period, care):
                wanted[machine.pk, day].append(one.booking)
    every_day = [day for _machine, day in wanted]
    rows = BookedDay.objects.filter(
        machine__in={machine for machine, _day in wanted}, day__range=(min(every_day), max(every_day))
    ).exclude(booking__in=[one.booking.pk for one in moved])
    in_the_way: defaultdict[int, list[BookedDay]] = defaultdict(list)
    for row in rows.select_related("machine", "booking__village", "spell").order_by("day", "machine_id"):
        for booking in wanted.get((row.machine_id, row.day), ()):
            in_the_way[booking.pk].append(row)
    for one in moved:
        held: list[Holding] = days.as_holdings(in_the_way[one.booking.pk])
        if held:
            yield Obstacle(booking=one.booking, why=" ".join(map(str, held)))


def _move(moved: Sequence[Shifted], *, by: Member, at: datetime, today: date) -> None:
    """First all days are given back, then all are taken: so no two of them are in each other's way."""
    before = {one.booking.pk: one.booking.period for one in moved}
    for one in moved:
        days.set_free(one.booking)
        one.booking.out_on, one.booking.back_on = one.period.start, one.period.end
        one.booking.save(update_fields=["out_on", "back_on"])
    for one in moved:
        relays.let_go(booking=one.booking, machines=one.machines, by=by, at=at)
    for one in moved:
        days.hold(booking=one.booking, machines=one.machines, today=today)
    for one in moved:
        booking, machines = one.booking, one.machines
        meets = {"out_time": booking.out_time, "back_time": booking.back_time}
        times.check_in_order(machines=machines, period=one.period, **meets, besides=booking)
        booking.sequence += 1
        recording.save(booking, at=at)
        changes = functools.partial(_changes, one.period, before[booking.pk])
        text = _("%(who)s changed the booking of %(village)s. %(changes)s")
        said = changes()[0]
        recording.record("booking_changed", text, booking=booking, machines=machines, by=by, at=at, changes=said)
        notices.changed(booking=booking, machines=machines, changes=changes, by=by, at=at)


def _changes(now: Period, before: Period) -> list[str]:
    return [
        _("Days now: %(days)s.") % {"days": days_in_words(now)},
        _("They were: %(days)s.") % {"days": days_in_words(before)},
    ]
