"""Which machine is spoken for on which day: holding days, setting them free, finding free ones.

The rows themselves are the promise. One machine and one day can be in the table once, on any engine, so there is no
look before the insert that a second village could slip past.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q

from kitshare.bookings import sharing
from kitshare.bookings.models import BookedDay, Booking, DayKind, Season
from kitshare.bookings.refusals import Holding, MachineTaken
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import CareInTheWay
from kitshare.kits.models import Machine
from kitshare.rules import periods
from kitshare.rules.periods import Period

EVERY = 10_000  # more starts than any season has
NEAREST = 3


def lock_machines(keys: Iterable[int]) -> list[Machine]:
    """The machines with these keys, in key order, nobody else's until this transaction ends.

    Whoever holds days, reports a fault or hands over locks first and in this order: so two facts about a machine
    cannot cross, and no two deeds wait for each other. SQLite has one writer at a time and needs no lock.
    The machines to which a shared part belongs are locked with those that it serves, and not given.
    """
    wanted = set(keys)
    chosen = Machine.objects.filter(pk__in=wanted | sharing.home_keys(wanted)).order_by("pk")
    ours = wanted & set(chosen.select_for_update(no_key=True).values_list("pk", flat=True))
    # Read only now: a kit that was retired while we waited shows in a new statement, not in the one that waited.
    return list(Machine.objects.filter(pk__in=ours).select_related("kit").order_by("pk"))


def lock_all_machines() -> None:
    """Keep every booking waiting until this transaction ends: for deeds that change what any of them goes by."""
    lock_machines(Machine.objects.values_list("pk", flat=True))


def hold(*, booking: Booking, machines: Sequence[Machine], today: date) -> None:
    """Hold the booking's days and the care days after them, wholly or not at all.

    Raises MachineTaken with who has them and the nearest days that are free.
    """
    with_care = not is_handed_on(booking)
    rows = [
        BookedDay(machine=machine, day=day, kind=_kind(day, booking.back_on), booking=booking)
        for machine in sorted(machines, key=lambda machine: machine.pk)
        for day in periods.held_days(booking.period, machine.kit.care_days if with_care else 0)
    ]
    try:
        with transaction.atomic():
            BookedDay.objects.bulk_create(rows)
    except IntegrityError as taken:
        raise _taken(machines=machines, period=booking.period, today=today, besides=booking) from taken
    if _shared_in_the_way(machines, booking.period, booking):
        raise _taken(machines=machines, period=booking.period, today=today, besides=booking)


def is_handed_on(booking: Booking) -> bool:
    """Whether the next village takes the machines straight from this one: then no care days follow it."""
    return Relay.objects.filter(first=booking).exists()


def hold_care(*, booking: Booking, machines: Sequence[Machine]) -> None:
    """Hold the care days after a booking whose relay is undone, wholly or not at all.

    Raises CareInTheWay with who has them. A booking that is over has none to get back.
    """
    if not booking.holds_machines:
        return
    rows = [
        BookedDay(machine=machine, day=day, kind=DayKind.CARE, booking=booking)
        for machine in sorted(machines, key=lambda machine: machine.pk)
        for day in periods.held_days(booking.period, machine.kit.care_days)[booking.period.length :]
    ]
    try:
        with transaction.atomic():
            BookedDay.objects.bulk_create(rows)
    except IntegrityError as taken:
        held = holdings(machines=machines, period=booking.period, besides=booking)
        raise CareInTheWay(first=booking, held=held) from taken


def set_free(booking: Booking) -> None:
    """Give back every day that the booking holds."""
    booking.days.all().delete()


def check_is_free(*, machines: Sequence[Machine], period: Period, today: date, besides: Booking | None = None) -> None:
    """Raise MachineTaken where `hold` would now: for a page that says so before anything is sent."""
    if holdings(machines=machines, period=period, besides=besides):
        raise _taken(machines=machines, period=period, today=today, besides=besides)


def shift_return(*, booking: Booking, machines: Sequence[Machine], today: date) -> None:
    """Make the rows follow a return on another day than promised.

    The first day out always counts as used. Days after the return become free, care follows it. On days that
    another village holds already nothing is added: their booking stands, and the pickup check will see the state.
    """
    returned_on = max(today, booking.out_on + periods.ONE_DAY)
    set_free(booking)
    wanted = Period(start=booking.out_on, end=returned_on)
    _hold_where_free(booking=booking, machines=machines, period=wanted, with_care=not is_handed_on(booking))


def hold_early_days(*, booking: Booking, machines: Sequence[Machine], from_day: date) -> None:
    """Hold the days before the first one promised, when the kit leaves early.

    Raises MachineTaken when another village has a machine on one of them. Care days of the village before are
    passed over: whoever hands the kit over sees that it is clean.
    """
    if from_day >= booking.out_on:
        return
    early = Period(start=from_day, end=booking.out_on)
    others = BookedDay.objects.filter(machine__in=machines, day__range=(early.start, early.last_day))
    if others.exclude(booking=booking).exclude(kind=DayKind.CARE).exists():
        raise _taken(machines=machines, period=early, today=from_day, besides=booking)
    _hold_where_free(booking=booking, machines=machines, period=early, with_care=False)


def holdings(*, machines: Sequence[Machine], period: Period, besides: Booking | None = None) -> list[Holding]:
    """Who has these machines on the period's days or on the care days after them, the soonest first."""
    if not machines:
        return []
    wanted = Q()
    hands_on = besides is not None and besides.back_on == period.end and is_handed_on(besides)
    for care_days, group in _by_care(machines).items():
        last = periods.held_days(period, 0 if hands_on else care_days)[-1]
        wanted |= Q(machine__in=group, day__range=(period.start, last))
    rows = BookedDay.objects.filter(wanted).select_related("machine", "booking__village", "spell")
    if besides is not None:
        rows = rows.exclude(booking_id=besides.pk)
    found = as_holdings(rows.order_by("day", "machine_id"))
    told = {holding.booking.pk for holding in found if holding.booking is not None}
    return found + [
        one for one in _shared_in_the_way(machines, period, besides) if one.booking and one.booking.pk not in told
    ]


def _shared_in_the_way(machines: Sequence[Machine], period: Period, besides: Booking | None) -> list[Holding]:
    """Who has a vital or a guard part that these machines need, with another machine."""
    partners = sharing.partners(machines)
    if not partners:
        return []
    rows = sharing.days_of_partners(partners, period, besides).select_related("machine", "booking__village", "spell")
    found = as_holdings(rows.order_by("day", "machine_id"))
    return [replace(holding, part=partners[holding.machines[0].pk]) for holding in found]


def as_holdings(rows: Iterable[BookedDay]) -> list[Holding]:
    """Rows in the order of their days, put together by the booking or the closed spell that they belong to."""
    found: defaultdict[tuple[int | None, int | None, str], list[BookedDay]] = defaultdict(list)
    for row in rows:
        found[row.booking_id, row.spell_id, row.kind].append(row)
    return _without_needless_care([_holding(rows) for rows in found.values()])


def nearest_free(
    *, machines: Sequence[Machine], wanted: Period, today: date, besides: Booking | None = None, count: int = NEAREST
) -> list[Period]:
    """The free spells as long as `wanted` that start nearest to it, on which all the machines are free."""
    season = Season.objects.covering(wanted.start) or Season.objects.current_or_next(today)
    if season is None:
        return []

    def of_group(taken: set[date], care_days: int) -> list[Period]:
        return periods.nearest_free_spells(
            wanted=wanted,
            taken=taken,
            season=season.period,
            not_before=today,
            care_days=care_days,
            count=EVERY,
        )

    return _free_for_all(machines, season.period, besides, of_group)[:count]


def next_weekends(
    *, machines: Sequence[Machine], today: date, count: int, besides: Booking | None = None
) -> list[Period]:
    """The next weekends of the season on which all the machines are free, soonest first."""
    season = Season.objects.current_or_next(today)
    if season is None or not machines:
        return []

    def of_group(taken: set[date], care_days: int) -> list[Period]:
        return periods.next_free_weekends(
            taken=taken, season=season.period, not_before=today, care_days=care_days, count=EVERY
        )

    return _free_for_all(machines, season.period, besides, of_group)[:count]


def _free_for_all(
    machines: Sequence[Machine],
    season: Period,
    besides: Booking | None,
    of_group: Callable[[set[date], int], list[Period]],
) -> list[Period]:
    """The spells free for each group of machines that need the same care, in the order of the first group."""
    common: list[Period] | None = None
    partners = sharing.partners(machines)
    away = set(sharing.days_of_partners(partners, season, besides).values_list("day", flat=True)) if partners else set()
    for care_days, group in _by_care(machines).items():
        last = date.fromordinal(min(season.end.toordinal() + care_days, date.max.toordinal()))
        rows = BookedDay.objects.filter(machine__in=group, day__range=(season.start, last))
        if besides is not None:
            rows = rows.exclude(booking_id=besides.pk)
        spells = of_group(away | set(rows.values_list("day", flat=True)), care_days)
        free = set(spells)
        common = spells if common is None else [spell for spell in common if spell in free]
    return common or []


def _hold_where_free(*, booking: Booking, machines: Sequence[Machine], period: Period, with_care: bool) -> None:
    longest_care = max((machine.kit.care_days for machine in machines), default=0) if with_care else 0
    last = period.end + timedelta(days=longest_care)
    rows = BookedDay.objects.filter(machine__in=machines, day__range=(period.start, last))
    taken = set(rows.values_list("machine_id", "day"))
    BookedDay.objects.bulk_create(
        BookedDay(machine=machine, day=day, kind=_kind(day, period.end), booking=booking)
        for machine in sorted(machines, key=lambda machine: machine.pk)
        for day in periods.held_days(period, machine.kit.care_days if with_care else 0)
        if (machine.pk, day) not in taken
    )


def _taken(*, machines: Sequence[Machine], period: Period, today: date, besides: Booking | None) -> MachineTaken:
    return MachineTaken(
        taken=holdings(machines=machines, period=period, besides=besides),
        nearest=nearest_free(machines=machines, wanted=period, today=today, besides=besides),
    )


def _without_needless_care(held: list[Holding]) -> list[Holding]:
    """Leave out the cleaning after a booking that is in the way itself: the booking is the reason to tell."""
    booked = {
        (holding.booking.pk, machine.pk)
        for holding in held
        if holding.booking is not None and holding.kind == DayKind.BOOKED
        for machine in holding.machines
    }
    return [
        holding
        for holding in held
        if holding.booking is None
        or holding.kind != DayKind.CARE
        or not all((holding.booking.pk, machine.pk) in booked for machine in holding.machines)
    ]


def _holding(rows: list[BookedDay]) -> Holding:
    machines = {row.machine_id: row.machine for row in rows}
    return Holding(
        machines=tuple(machines[key] for key in sorted(machines)),
        kind=DayKind(rows[0].kind),
        booking=rows[0].booking,
        spell=rows[0].spell,
        first_day=rows[0].day,
        last_day=rows[-1].day,
    )


def _kind(day: date, back_on: date) -> DayKind:
    return DayKind.BOOKED if day < back_on else DayKind.CARE


def _by_care(machines: Sequence[Machine]) -> dict[int, list[Machine]]:
    groups: defaultdict[int, list[Machine]] = defaultdict(list)
    for machine in machines:
        groups[machine.kit.care_days].append(machine)
    return groups
