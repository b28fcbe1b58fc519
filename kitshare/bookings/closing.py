"""Closing days and opening them again: a depot shut, a machine away for service, a holiday.

A spell says what is closed and why; its rows in the table of booked days are what guards it, by the constraint that
guards bookings. The rows follow from the spells: where two spells cover a day the row belongs to one of them, and when
that one ends the other takes the day over.

Whoever changes spells, or which machines there are, locks the scheme's row first and the machines after it. So a
machine that arrives while its depot is being closed is not forgotten.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Final

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings import days, offering
from kitshare.bookings.models import BookedDay, ClosedKind, ClosedSpell, DayKind
from kitshare.bookings.refusals import Holding
from kitshare.bookings.words import from_day_to_day, machines_in_words
from kitshare.engine import deed
from kitshare.kits.models import Depot, Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme
from kitshare.rules.periods import ONE_DAY

LONGEST_DAYS: Final = 366
LONGEST_REASON: Final = 120


class ClosingRefused(Exception):
    """Days cannot be closed or opened so. `field` names what to correct, if anything typed is at fault."""

    field: str | None = None


class NotTheirsToClose(ClosingRefused):
    """A depot or everything is for the coordinator; a machine also for maintenance volunteers."""

    def __init__(self) -> None:
        super().__init__(_("This is not yours to close or open. Telephone the coordinator."))


class DaysNotSensible(ClosingRefused):
    """Past, backwards, or most likely a slip in the year."""

    field = "last_day"


class ClosesNothing(ClosingRefused):
    """No depot or no machine was named, or none that is still lent."""

    field = "machines"

    def __init__(self) -> None:
        super().__init__(_("Choose at least one machine that is still lent."))


class ReasonForClosingMissing(ClosingRefused):
    """Villages read it, wherever they meet the closed days."""

    field = "reason"

    def __init__(self) -> None:
        super().__init__(_("Say why in a few words: the villages read it."))


class ClosesOverBookings(ClosingRefused):
    """Bookings hold some of the days. They are moved or called off first: nobody loses days by a stroke."""

    field = "first_day"

    def __init__(self, *, in_the_way: Sequence[Holding]) -> None:
        sentence = ngettext(
            "A booking stands in the way. Move it or call it off first.",
            "%(count)d bookings stand in the way. Move them or call them off first.",
            len(in_the_way),
        )
        self.sentence = sentence % {"count": len(in_the_way)}
        super().__init__(" ".join([self.sentence, *map(str, in_the_way)]))
        self.in_the_way = list(in_the_way)


class SpellIsOver(ClosingRefused):
    """What was closed stays as it was."""

    def __init__(self) -> None:
        super().__init__(_("These closed days are over: there is nothing left to open."))


@deed
def close_days(
    *,
    kind: ClosedKind,
    depot: Depot | None,
    machines: Collection[Machine],
    first_day: date,
    last_day: date,
    reason: str,
    by: Member,
    at: datetime,
    today: date,
) -> ClosedSpell:
    """Close some days: of a depot, of the machines named, or of everything on a holiday. All of them or none."""
    _check(kind=kind, first_day=first_day, last_day=last_day, reason=reason, by=by, today=today)
    if kind == ClosedKind.DEPOT and depot is None:
        raise ClosesNothing
    Scheme.objects.select_for_update().first()
    spell = ClosedSpell(kind=kind, first_day=first_day, last_day=last_day, reason=reason.strip())
    spell.depot = depot if kind == ClosedKind.DEPOT else None
    spell.save()
    if kind == ClosedKind.SERVICE:
        named = Machine.objects.in_use().filter(pk__in=[machine.pk for machine in machines])
        spell.machines.set(named)
    closed = machines_of(spell)
    if kind == ClosedKind.SERVICE and not closed:
        raise ClosesNothing
    days.lock_machines(machine.pk for machine in closed)

    def why() -> str:
        return _("The days are closed: %(reason)s") % {"reason": spell.reason}

    offering.withdraw_from(
        {(machine.pk, day) for machine in closed for day in spell.period.days}, by=by, at=at, why=why
    )
    settle(closed, today=today)
    _record("days_closed", _("%(who)s closed %(what)s, %(days)s: %(reason)s"), spell, closed, by=by, at=at)
    return spell


@deed
def close_holidays(*, named: Mapping[date, str], by: Member, at: datetime, today: date) -> list[ClosedSpell]:
    """Close everything on some holidays, each with its name as the reason: all of them or none."""
    if not named:
        raise DaysNotSensible(_("Choose at least one day."))
    return [
        close_days(
            kind=ClosedKind.HOLIDAY,
            depot=None,
            machines=(),
            first_day=day,
            last_day=day,
            reason=name[:LONGEST_REASON],
            by=by,
            at=at,
            today=today,
        )
        for day, name in sorted(named.items())
    ]


@deed
def open_again(*, spell: ClosedSpell, by: Member, at: datetime, today: date) -> None:
    """End a spell: its days from today on are free again. Days that are over stay as they were."""
    check_may_close(kind=ClosedKind(spell.kind), by=by)
    Scheme.objects.select_for_update().first()
    current = ClosedSpell.objects.select_for_update(of=("self",)).filter(pk=spell.pk).first()
    if current is None or current.last_day < today:
        raise SpellIsOver
    concerned = days.lock_machines(current.days.values_list("machine_id", flat=True).distinct())
    _record("days_opened", _("%(who)s opened %(what)s again, %(days)s: %(reason)s"), current, concerned, by=by, at=at)
    current.days.filter(day__gte=today).delete()
    if current.first_day >= today:
        current.delete()
    else:
        current.last_day = today - ONE_DAY
        current.save()
    settle(concerned, today=today)
    offering.offer_next(locked=concerned, at=at)


def check_may_close(*, kind: ClosedKind, by: Member) -> None:
    """Raise NotTheirsToClose unless it is theirs."""
    if not (by.coordinates or (by.maintains and kind == ClosedKind.SERVICE)):
        raise NotTheirsToClose


def machines_of(spell: ClosedSpell) -> list[Machine]:
    """The machines in use that a spell closes now, in key order."""
    in_use = Machine.objects.in_use().select_related("kit").order_by("pk")
    if spell.kind == ClosedKind.DEPOT:
        return list(in_use.filter(kit__depot=spell.depot_id))
    if spell.kind == ClosedKind.SERVICE:
        return list(in_use.filter(closed_spells=spell))
    return list(in_use)


def settle(machines: Sequence[Machine], *, today: date) -> None:
    """Make the closed rows of some machines agree with the spells, from today on, wholly or not at all.

    Raises ClosesOverBookings where a booking holds a day that a spell closes.
    """
    machines = days.lock_machines(machine.pk for machine in machines)
    spells = list(ClosedSpell.objects.from_day(today).prefetch_related("machines").order_by("pk"))
    closing = {machine.pk: [spell for spell in spells if _closes(spell, machine)] for machine in machines}
    laid = BookedDay.objects.filter(machine__in=machines, kind=DayKind.CLOSED, day__gte=today)
    for machine in machines:
        laid.filter(machine=machine).exclude(spell__in=closing[machine.pk]).delete()
    closed_already = set(laid.values_list("machine_id", "day"))
    rows = [
        BookedDay(machine=machine, day=day, kind=DayKind.CLOSED, spell=spell)
        for machine in machines
        for day, spell in sorted(_days(closing[machine.pk], today).items())
        if (machine.pk, day) not in closed_already
    ]
    try:
        with transaction.atomic():
            BookedDay.objects.bulk_create(rows)
    except IntegrityError as taken:
        raise ClosesOverBookings(in_the_way=_in_the_way(rows)) from taken


def _check(*, kind: ClosedKind, first_day: date, last_day: date, reason: str, by: Member, today: date) -> None:
    check_may_close(kind=kind, by=by)
    if first_day < today:
        raise DaysNotSensible(_("The first day is past. Choose today or a later day."))
    if last_day < first_day:
        raise DaysNotSensible(_("The last day is not before the first."))
    if last_day - first_day >= timedelta(days=LONGEST_DAYS):
        raise DaysNotSensible(_("Close a year at most in one go. Look at the years."))
    if not reason.strip():
        raise ReasonForClosingMissing


def _closes(spell: ClosedSpell, machine: Machine) -> bool:
    if machine.retired_on or machine.kit.retired_on:
        return False
    if spell.kind == ClosedKind.DEPOT:
        return spell.depot_id == machine.kit.depot_id
    return spell.kind == ClosedKind.HOLIDAY or machine in spell.machines.all()


def _days(spells: Sequence[ClosedSpell], today: date) -> dict[date, ClosedSpell]:
    """Each day from today on that some spell closes; the spell that was made first has it."""
    closed: dict[date, ClosedSpell] = {}
    for spell in spells:
        for day in spell.period.days:
            if day >= today:
                closed.setdefault(day, spell)
    return closed


def _in_the_way(rows: Sequence[BookedDay]) -> list[Holding]:
    wanted = {(row.machine_id, row.day) for row in rows}
    every_day = [row.day for row in rows]
    held = BookedDay.objects.filter(
        machine__in={row.machine_id for row in rows}, day__range=(min(every_day), max(every_day))
    ).exclude(kind=DayKind.CLOSED)
    found = held.select_related("machine", "booking__village").order_by("day", "machine_id")
    return days.as_holdings(row for row in found if (row.machine_id, row.day) in wanted)


def _record(word: str, text: str, spell: ClosedSpell, machines: Sequence[Machine], *, by: Member, at: datetime) -> None:
    words = {
        "who": by.name,
        "what": what_in_words(spell, machines),
        "days": from_day_to_day(spell.first_day, spell.last_day),
        "reason": spell.reason,
    }
    kits = {machine.kit_id: machine.kit for machine in machines}
    depots = [spell.depot] if spell.depot else []
    logbook.write(deed=word, text=text % words, about=[*depots, *kits.values(), *machines], by=by, at=at)


def what_in_words(spell: ClosedSpell, machines: Collection[Machine]) -> str:
    """What a spell closes: the depot by its name, the machines by theirs, or everything."""
    if spell.depot:
        return spell.depot.name
    return machines_in_words(machines) if spell.kind == ClosedKind.SERVICE else _("everything")
