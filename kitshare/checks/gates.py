"""When a handover check may be made at all, and the words for why not."""

from collections.abc import Callable
from datetime import date, timedelta

from django.utils.translation import gettext as _

from kitshare.bookings import briefing
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import in_short
from kitshare.bookings.words import day_in_words
from kitshare.checks.models import CheckLine
from kitshare.checks.sharing import lines_of_parts_away
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.upkeep import fitness
from kitshare.upkeep.fitness import Reason


class HandoverRefused(Exception):
    """Why a check cannot be recorded. The message is fit to show a village."""

    @property
    def fact(self) -> str:
        """What is so, without what follows from it: for a handover that was done all the same."""
        return str(self)


class NotTheirs(HandoverRefused):
    """Somebody who does not sign for the village and does not run the scheme."""

    def __init__(self) -> None:
        super().__init__(_("Only people of the village, the coordinator and maintenance volunteers sign for this kit."))


class WrongStage(HandoverRefused):
    """The booking is not where this check belongs."""

    def __init__(self, message: str, stage: str) -> None:
        super().__init__(message)
        self.stage = stage


class TooEarly(HandoverRefused):
    """Before the eve of the day on which the kit goes out."""

    def __init__(self, first_day: date) -> None:
        super().__init__(
            _(
                "The kit can be handed over from %(day)s on. If it should go out sooner,"
                " ask the coordinator to change the days of the booking."
            )
            % {"day": day_in_words(first_day)}
        )
        self.first_day = first_day


class DaysAreOver(HandoverRefused):
    """On the day by whose morning the kit should be back, or later."""

    def __init__(self, back_on: date) -> None:
        super().__init__(
            _(
                "The kit was to be back by the morning of %(day)s, so it does not go out now."
                " Ask the coordinator to change the days of the booking."
            )
            % {"day": day_in_words(back_on)}
        )
        self.back_on = back_on


class StillOut(HandoverRefused):
    """Another village has one of the machines, as far as anybody wrote down."""

    def __init__(self, bookings: list[Booking]) -> None:
        villages = ", ".join(sorted({booking.village.name for booking in bookings}))
        super().__init__(
            _("A machine is still out with %(villages)s. Its return check comes first.") % {"villages": villages}
        )
        self.bookings = bookings


class SetAside(HandoverRefused):
    """A machine has an open fault that stops its use, or a safety test that is overdue."""

    def __init__(self, reasons: list[Reason]) -> None:
        words = {"reasons": " ".join(str(reason) for reason in reasons)}
        super().__init__(_("Set aside, so it does not go out. %(reasons)s Telephone the coordinator.") % words)
        self.reasons = reasons
        self.faults = [reason.fault for reason in reasons if reason.fault is not None]

    @property
    def fact(self) -> str:
        return " ".join(str(reason) for reason in self.reasons)


class GoesByRelay(HandoverRefused):
    """The kit comes straight from another village."""

    def __init__(self, relay: Relay) -> None:
        words = {"relay": in_short(relay)}
        super().__init__(_("%(relay)s. Hand over together, by the relay check.") % words)
        self.relay = relay


class BriefingFirst(HandoverRefused):
    """The borrower has not confirmed the briefing of this season, and pickups wait for it here."""

    def __init__(self, booking: Booking) -> None:
        words = {"name": booking.borrower.name}
        super().__init__(
            _(
                "%(name)s has not confirmed the briefing of this season yet, and a pickup waits for it."
                " Read it and tick each point, or go through it on paper with the coordinator."
            )
            % words
        )
        self.borrower = booking.borrower

    @property
    def fact(self) -> str:
        return _("%(name)s had not confirmed the briefing of this season.") % {"name": self.borrower.name}


class SharedPartAway(HandoverRefused):
    """A vital or a guard part that two machines share is out with the other one."""

    def __init__(self, line: CheckLine) -> None:
        words = {"part": line.part.name, "village": line.check_of.booking.village.name}
        super().__init__(
            _("%(part)s is out with %(village)s, and no machine here goes without it. Telephone the coordinator.")
            % words
        )
        self.part = line.part
        self.village = line.check_of.booking.village

    @property
    def fact(self) -> str:
        return _("%(part)s is out with %(village)s.") % {"part": self.part.name, "village": self.village.name}


def first_day_of_pickup(booking: Booking) -> date:
    """The eve of the day it goes out: kits are often fetched the evening before."""
    return booking.out_on - timedelta(days=1)


def check_pickup_can_start(*, booking: Booking, by: Member, today: date) -> None:
    """Raise a HandoverRefused unless this booking's kit may be handed over today, by this member."""
    check_pickup_is_due(booking=booking, by=by, today=today)
    for refusal in what_stops_a_pickup(booking=booking, today=today):
        raise refusal


def check_pickup_is_due(*, booking: Booking, by: Member, today: date) -> None:
    """Raise a HandoverRefused unless this is the booking that has the kit now, and here somebody who signs for it."""
    _check_theirs(booking, by)
    words = {
        Stage.WAITING: _("This booking is on the waiting list, so the kit stays where it is."),
        Stage.ASKED: _("The coordinator has not agreed this booking yet, so the kit stays where it is."),
        Stage.OUT: _("This kit was handed over already."),
        Stage.BACK: _("This kit went out and is back again."),
        Stage.CLOSED: _("This kit went out and is back again."),
        Stage.DECLINED: _("This booking was declined, so the kit does not go out."),
        Stage.CALLED_OFF: _("This booking was called off, so the kit does not go out."),
    }
    _check_stage(booking, Stage.AGREED, words)
    if relay := Relay.objects.pending().with_bookings().filter(second=booking).first():
        raise GoesByRelay(relay)
    if today < first_day_of_pickup(booking):
        raise TooEarly(first_day_of_pickup(booking))
    if today >= booking.back_on:
        raise DaysAreOver(booking.back_on)
    machines = list(booking.machines.all())
    elsewhere = Booking.objects.filter(stage=Stage.OUT, machines__in=machines).exclude(pk=booking.pk)
    if out := list(elsewhere.select_related("village").distinct().order_by("pk")):
        raise StillOut(out)


def what_stops_a_pickup(*, booking: Booking, today: date) -> list[HandoverRefused]:
    """What keeps the machines at the depot today: no briefing, a fault, an overdue test, a shared part that is away."""
    machines = list(booking.machines.all())
    away = [line for line in lines_of_parts_away(booking, machines) if line.part.stops_a_handover]
    return [*_unbriefed(booking), *_set_aside(machines, today), *(SharedPartAway(line) for line in away)]


def check_relay_can_start(*, relay: Relay, by: Member, today: date) -> None:
    """Raise a HandoverRefused unless the first village may hand on to the second today, by this member."""
    check_relay_is_due(relay=relay, by=by, today=today)
    for refusal in what_stops_a_relay(relay=relay, today=today):
        raise refusal


def check_relay_is_due(*, relay: Relay, by: Member, today: date) -> None:
    """Raise a HandoverRefused unless both bookings stand where this relay joins them, and it is the day for it."""
    if not Relay.objects.visible_to(by).filter(pk=relay.pk).exists():
        raise NotTheirs
    first, second = relay.first, relay.second
    names = {"first": first.village.name, "second": second.village.name}
    if relay.done_at is not None:
        raise WrongStage(_("%(first)s handed this kit on to %(second)s already.") % names, Stage(second.stage))
    if first.stage == Stage.AGREED:
        raise WrongStage(
            _("The kit has not gone out to %(first)s yet: that pickup check comes first.") % names, first.stage
        )
    if first.stage != Stage.OUT:
        raise WrongStage(_("The kit is not with %(first)s any more.") % names, first.stage)
    if second.stage != Stage.AGREED:
        raise WrongStage(_("The booking of %(second)s waits for a coordinator first.") % names, second.stage)
    first_day = max(first_day_of_pickup(second), first.out_on + timedelta(days=1))
    if today < first_day:
        raise TooEarly(first_day)
    if today >= second.back_on:
        raise DaysAreOver(second.back_on)


def what_stops_a_relay(*, relay: Relay, today: date) -> list[HandoverRefused]:
    """What keeps the machines where they are today: no briefing of the second village, a fault, an overdue test."""
    return [*_unbriefed(relay.second), *_set_aside(list(relay.second.machines.all()), today)]


def _unbriefed(booking: Booking) -> list[HandoverRefused]:
    return [BriefingFirst(booking)] if briefing.holds(booking) else []


def _set_aside(machines: list[Machine], today: date) -> list[HandoverRefused]:
    reasons = fitness.stops(machines, on=today)
    return [SetAside(reasons)] if reasons else []


def check_return_can_start(*, booking: Booking, by: Member) -> None:
    """Raise a HandoverRefused unless this booking's kit may be taken back, by this member. Any day will do."""
    _check_theirs(booking, by)
    words = {
        Stage.WAITING: _("The kit has not gone out: the booking is on the waiting list."),
        Stage.ASKED: _("The kit has not gone out yet: the pickup check comes first."),
        Stage.AGREED: _("The kit has not gone out yet: the pickup check comes first."),
        Stage.BACK: _("The return check of this kit was done already."),
        Stage.CLOSED: _("The return check of this kit was done already."),
        Stage.DECLINED: _("This booking was declined, so there is nothing to take back."),
        Stage.CALLED_OFF: _("This booking was called off, so there is nothing to take back."),
    }
    _check_stage(booking, Stage.OUT, words)


def why_not(check: Callable[[], None]) -> HandoverRefused | None:
    """The reason that a check would raise, or None where it lets the deed pass."""
    try:
        check()
    except HandoverRefused as refusal:
        return refusal
    return None


def is_early(refusal: HandoverRefused) -> bool:
    """Whether only time is in the way: the same check may be made later."""
    awaits = isinstance(refusal, WrongStage) and refusal.stage == Stage.AGREED
    return awaits or isinstance(refusal, TooEarly)


def _check_theirs(booking: Booking, by: Member) -> None:
    if not Booking.objects.visible_to(by).filter(pk=booking.pk).exists():
        raise NotTheirs


def _check_stage(booking: Booking, wanted: Stage, words: dict[Stage, str]) -> None:
    stage = Stage(booking.stage)
    if stage != wanted:
        raise WrongStage(words[stage], stage)
