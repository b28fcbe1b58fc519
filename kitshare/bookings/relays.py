"""Relays: arranging one between two bookings, changing it, undoing it, and what ends one by itself.

Both bookings are of the same machines, so locking these keeps every other deed on either of them waiting.
"""

from collections.abc import Sequence
from datetime import date, datetime, time

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings import days, eligibility, notices, recording, times
from kitshare.bookings.models import AHEAD, Booking, DayKind, Stage
from kitshare.bookings.refusals import NotAtThisStage, NotTheirs
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import MeetsInRelay, NoRelay, in_full, in_short, shortly
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.outbox.speaking import Lines
from kitshare.people.models import Member
from kitshare.rules.periods import Period


@deed
def arrange_relay(
    *,
    first: Booking,
    second: Booking,
    period: Period,
    carried_by: str,
    meet_at: str,
    meet_time: time,
    by: Member,
    at: datetime,
    today: date,
    first_revision: int,
    revision: int,
) -> Relay:
    """Let the second village take the machines straight from the first, on the day on which the first is done.

    The second booking has the days of `period` from then on, and is agreed by it if it was only asked. The days for
    cleaning and drying after the first are dropped. All of it, or nothing.
    """
    first, second, machines = _lock(first, second)
    recording.check_revision(booking=first, revision=first_revision)
    recording.check_revision(booking=second, revision=revision)
    check_can_arrange(first=first, second=second, period=period, by=by, today=today)
    carried_by, meet_at = _said(carried_by, meet_at)
    relay = Relay(first=first, second=second, carried_by=carried_by, meet_at=meet_at, arranged_by=by, arranged_at=at)
    relay.save()
    first.days.filter(kind=DayKind.CARE).delete()
    _meet(relay, meet_time)
    _give_days(second, machines, period, today)
    second.stage = Stage.AGREED
    _save_both(relay, at=at)
    _tell_both(relay, "relay-arranged", gettext_lazy("%(who)s arranged a relay. %(what)s"), machines, by=by, at=at)
    return relay


@deed
def change_relay(
    *,
    relay: Relay,
    carried_by: str,
    meet_at: str,
    meet_time: time,
    by: Member,
    at: datetime,
    revision: int,
) -> Relay:
    """Change who carries it, where the villages meet and when. The revision is that of the second booking."""
    relay, machines = _lock_relay(relay)
    recording.check_revision(booking=relay.second, revision=revision)
    check_can_change(relay=relay, by=by)
    relay.carried_by, relay.meet_at = _said(carried_by, meet_at)
    relay.save()
    _meet(relay, meet_time)
    _save_both(relay, at=at)
    _tell_both(relay, "relay-changed", gettext_lazy("%(who)s changed the relay. %(what)s"), machines, by=by, at=at)
    return relay


@deed
def undo_relay(
    *, relay: Relay, period: Period, by: Member, at: datetime, today: date, revision: int
) -> tuple[Booking, Booking]:
    """Let the machines go by the depot after all: the first village's care days come back, the second has `period`.

    Raises CareInTheWay or MachineTaken where that cannot be; then the relay stands as it did.
    """
    relay, machines = _lock_relay(relay)
    recording.check_revision(booking=relay.second, revision=revision)
    check_can_change(relay=relay, by=by)
    if period != relay.second.period:
        eligibility.check_days(period=period, today=today)
    hands_on = shortly(relay)

    def lines() -> list[str]:
        words = {"who": by.name, "what": hands_on()}
        return [_("%(who)s undid the relay: %(what)s. The machines go by the depot.") % words]

    days.set_free(relay.second)
    relay.delete()
    days.hold_care(booking=relay.first, machines=machines)
    _give_days(relay.second, machines, period, today)
    _save_both(relay, at=at)
    for booking in (relay.first, relay.second):
        _tell(booking, "relay-undone", lines, machines, by=by, at=at)
    return relay.first, relay.second


def let_go(*, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime, is_over: bool = False) -> None:
    """End the relays that a booking, as it is about to be, no longer fits: it is over, or on other days or machines.

    For deeds that have set the booking's days free and have not held new ones yet. The other village is told. Where a
    relay stands, both villages must still meet at one time.
    """
    for relay in _pending(booking):
        other = relay.second if relay.first.pk == booking.pk else relay.first
        if is_over or not _still_fits(relay, booking, machines):
            _end(relay, other, by=by, at=at)
            continue
        is_first = relay.first.pk == booking.pk
        time_here = booking.back_time if is_first else booking.out_time
        if time_here != (other.out_time if is_first else other.back_time):
            raise MeetsInRelay(relay=relay, field="back_time" if is_first else "out_time")


def complete(*, relay: Relay, at: datetime) -> None:
    """The relay check is signed: from now on the relay is history."""
    relay.done_at = at
    relay.save()


def check_can_arrange(*, first: Booking, second: Booking, period: Period, by: Member, today: date) -> None:
    """A coordinator; one agreed or out, one still to go; the same machines; and the days follow on each other."""
    if not by.coordinates:
        raise NotTheirs
    for booking, stages in ((first, (Stage.AGREED, Stage.OUT)), (second, AHEAD)):
        if booking.stage not in stages:
            raise NotAtThisStage(booking=booking)
    if _keys(first) != _keys(second) or first.pk == second.pk:
        raise NoRelay(_("A relay hands on everything: both bookings are of the same machines."), field="first")
    if Relay.objects.filter(first=first).exists() or Relay.objects.filter(second=second).exists():
        raise NoRelay(_("One of the two is in such a relay already. Undo that one first."), field="first")
    if period.start != first.back_on:
        raise NoRelay(_("The second village takes it on the day on which the first is done."), field="back_on")
    if period != second.period:
        eligibility.check_days(period=period, today=today)
    eligibility.check_machines(list(second.machines.select_related("kit").order_by("pk")))


def check_can_change(*, relay: Relay, by: Member) -> None:
    """A coordinator, until the relay check is signed."""
    if not by.coordinates:
        raise NotTheirs
    if relay.done_at is not None:
        raise NoRelay(_("The kit was handed on already."))


def _lock(first: Booking, second: Booking) -> tuple[Booking, Booking, list[Machine]]:
    machines = days.lock_machines(_keys(first) | _keys(second))
    found = Booking.objects.select_related("village", "borrower").select_for_update(of=("self",)).order_by("pk")
    bookings = {booking.pk: booking for booking in found.filter(pk__in=[first.pk, second.pk])}
    own = _keys(second)
    return bookings[first.pk], bookings[second.pk], [machine for machine in machines if machine.pk in own]


def _lock_relay(relay: Relay) -> tuple[Relay, list[Machine]]:
    """The relay as it stands now. Raises NoRelay when it was undone meanwhile."""
    first, second, machines = _lock(relay.first, relay.second)
    current = Relay.objects.filter(pk=relay.pk).first()
    if current is None:
        raise NoRelay(_("This relay was undone meanwhile."))
    current.first, current.second = first, second
    return current, machines


def _keys(booking: Booking) -> set[int]:
    return set(booking.machines.values_list("pk", flat=True))


def _said(carried_by: str, meet_at: str) -> tuple[str, str]:
    if not carried_by.strip():
        raise NoRelay(_("Say who carries it."), field="carried_by")
    if not meet_at.strip():
        raise NoRelay(_("Say where they meet."), field="meet_at")
    return carried_by.strip(), meet_at.strip()


def _give_days(booking: Booking, machines: Sequence[Machine], period: Period, today: date) -> None:
    days.set_free(booking)
    booking.out_on, booking.back_on = period.start, period.end
    days.hold(booking=booking, machines=machines, today=today)
    meets = {"out_time": booking.out_time, "back_time": booking.back_time}
    times.check_in_order(machines=machines, period=period, **meets, besides=booking)


def _meet(relay: Relay, meet_time: time) -> None:
    """Both villages come at one time."""
    relay.first.back_time = relay.second.out_time = meet_time
    relay.first.save(update_fields=["back_time"])  # read again when the second's times are looked at


def _save_both(relay: Relay, *, at: datetime) -> None:
    for booking in (relay.first, relay.second):
        booking.sequence += 1
        recording.save(booking, at=at)


def _tell_both(
    relay: Relay, event: str, text: Promise, machines: Sequence[Machine], *, by: Member, at: datetime
) -> None:
    """The logbook and both villages, in the same words, each in their own language."""

    def lines() -> list[str]:
        return [str(text) % {"who": by.name, "what": in_short(relay) + "."}, *in_full(relay, machines)]

    for booking in (relay.first, relay.second):
        _tell(booking, event, lines, machines, by=by, at=at)


def _tell(booking: Booking, event: str, lines: Lines, machines: Sequence[Machine], *, by: Member, at: datetime) -> None:
    text = lines()[0].replace("%", "%%")
    word = f"booking_{event.replace('-', '_')}"
    recording.record(word, text, booking=booking, machines=machines, by=by, at=at)
    notices.about_relay(event=event, lines=lines, booking=booking, machines=machines, by=by, at=at)


def _pending(booking: Booking) -> list[Relay]:
    """At most two: the one by which it takes the machines, and the one by which it hands them on."""
    return list(Relay.objects.pending().of(booking).with_bookings().order_by("pk"))


def _still_fits(relay: Relay, booking: Booking, machines: Sequence[Machine]) -> bool:
    is_first = relay.first.pk == booking.pk
    other = relay.second if is_first else relay.first
    meets = booking.back_on == other.out_on if is_first else booking.out_on == other.back_on
    return meets and {machine.pk for machine in machines} == _keys(other)


def _end(relay: Relay, other: Booking, *, by: Member, at: datetime) -> None:
    """Take the relay away; the other booking stands, and the first one's care days come back if it still goes on."""
    machines = list(other.machines.select_related("kit").order_by("pk"))
    hands_on = shortly(relay)

    def lines() -> list[str]:
        return [_("The relay is undone: %(what)s. The machines go by the depot.") % {"what": hands_on()}]

    relay.delete()
    if other.pk == relay.first.pk:
        days.hold_care(booking=other, machines=machines)
    other.sequence += 1
    recording.save(other, at=at)
    _tell(other, "relay-undone", lines, machines, by=by, at=at)
