"""What the pages of bookings show, worked out from the bookings."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from kitshare.bookings import eligibility, fit, signing
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.words import day_at, test_first_in_words
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.upkeep import fitness
from kitshare.web.bookings.relay_facts import RelayFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class Deeds:
    """What this member may do to a booking now."""

    agree: bool
    decline: bool
    change: bool
    call_off: bool
    close: bool
    sign_over: bool

    @property
    def any(self) -> bool:
        return any(getattr(self, name) for name in self.__slots__)


def deeds_open_to(member: Member, booking: Booking, today: date) -> Deeds:
    """The same checks that guard the deeds, so that no button leads to a refusal known beforehand."""
    machines = list(booking.machines.all())
    change = eligibility.change_can(booking=booking, by=member)
    return Deeds(
        agree=eligibility.agree_can(booking=booking, machines=machines, by=member, today=today),
        decline=eligibility.decline_can(booking=booking, by=member),
        change=change,
        call_off=change,
        close=eligibility.close_can(booking=booking, by=member),
        sign_over=eligibility.sign_over_can(booking=booking, by=member) and signing.others_sign(booking),
    )


def next_step(booking: Booking, today: date, relays: RelayFacts | None = None) -> str:
    """What happens next, in a sentence or two."""
    return (_next_in_relay(booking, relays) if relays else "") or _next_step(booking, today)


def _next_in_relay(booking: Booking, relays: RelayFacts) -> str:
    into, onwards = relays.into, relays.onwards
    words = {
        "out": day_at(booking.out_on, booking.out_time),
        "back": day_at(booking.back_on, booking.back_time),
        "first": into.first.village.name if into else "",
        "second": onwards.second.village.name if onwards else "",
    }
    if into and booking.stage == Stage.AGREED:
        return _("On %(out)s take it on from %(first)s, and do the relay check together.") % words
    if onwards and booking.stage == Stage.OUT:
        sentence = _("On %(back)s hand it on to %(second)s: clean it down before, and do the relay check together.")
        return sentence % words
    if onwards and booking.stage == Stage.BACK:
        return _("Handed on to %(second)s. A coordinator closes the booking when all is settled.") % words
    return ""


def _next_step(booking: Booking, today: date) -> str:
    words = {
        "out": day_at(booking.out_on, booking.out_time),
        "back": day_at(booking.back_on, booking.back_time),
        "village": booking.village.name,
        "borrower": booking.borrower.name,
    }
    if booking.stage in (Stage.ASKED, Stage.AGREED) and booking.back_on <= today:
        return _("Its days are over and the kit never left. Call it off, or change the days.")
    if booking.stage == Stage.OUT and booking.back_on < today:
        return _("It was to be back on %(back)s. Do the return check as soon as it is.") % words
    sentences = {
        Stage.WAITING: _("%(village)s waits for these days. When they are freed, the first who fits is offered them."),
        Stage.ASKED: _(
            "The days are held for %(village)s. A coordinator agrees or declines it, and %(borrower)s is told."
        ),
        Stage.AGREED: _("On %(out)s do the pickup check at the depot. Bring somebody to help with the lifting."),
        Stage.OUT: _("Bring it back clean on %(back)s, and do the return check together."),
        Stage.BACK: _("The kit is cleaned and dried. A coordinator closes the booking when all is settled."),
        Stage.CLOSED: _("All is settled. Nothing is left to do."),
        Stage.DECLINED: _("The days are free again. You can ask for other days or other machines."),
        Stage.CALLED_OFF: _("The days are free again for other villages."),
    }
    return sentences[Stage(booking.stage)] % words


def tests_first(machines: Iterable[Machine], out_on: date, today: date) -> list[str]:
    """The safety tests that will be overdue when these machines go out, a sentence each. One query."""
    plans = fitness.overdue_tests(machines, on=max(out_on, today))
    return [test_first_in_words(plan, out_on=out_on, today=today) for plan in plans]


def services_due(machines: Iterable[Machine], out_on: date, today: date) -> list[str]:
    """What cautions when these machines go out, but for faults: services that will be due, and open tasks."""
    found = fit.reasons(machines, on=max(out_on, today), today=today)
    return [str(reason) for reason in found if reason.fault is None and not reason.stops]
