"""Deeds on offers: accepting, passing, offering out of turn, and the round that looks after the waiting list.

An offer stands until the round finds that its time is over: up to then its days are held, so that an answer a moment
late still counts. Of an answer and the round, or of two answers, the one that has the machines first is the one.
"""

from datetime import date, datetime

from django.utils.translation import gettext as _

from kitshare.bookings import days, eligibility, offer_notices, offering, recording, waiting_list
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.refusals import MachineTaken, NotTheirs
from kitshare.bookings.waiting_list import Entry
from kitshare.bookings.waiting_models import Offer, Standing, WaitingPlace
from kitshare.bookings.waiting_refusals import (
    DoesNotFit,
    NotWaiting,
    OfferEnded,
    OfferIsOpen,
    OrderReasonMissing,
    TooLateToOffer,
)
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Scheme
from kitshare.rules import turns


@deed
def accept_offer(*, offer: Offer, by: Member, at: datetime, today: date) -> Booking:
    """Take the days. From now on it is a booking that was asked for, and a coordinator agrees or declines it.

    Accepted twice, it is accepted once, and the second answer is the first.
    """
    booking, machines = recording.lock(offer.booking)
    offer = Offer.objects.get(pk=offer.pk)
    if offer.standing == Standing.ACCEPTED and booking.stage != Stage.WAITING:
        _check_may_answer(booking, by)
        return booking
    check_can_answer(offer=offer, booking=booking, by=by)
    eligibility.check_can_book(
        village=booking.village,
        borrower=booking.borrower,
        machines=machines,
        period=booking.period,
        by=by,
        today=today,
    )
    offer.standing, offer.ended_at = Standing.ACCEPTED, at
    offer.save()
    WaitingPlace.objects.filter(pk=booking.pk).delete()
    recording.move_to(Stage.ASKED, booking=booking, at=at)
    text = _("%(who)s accepted the days offered to %(village)s: %(machines)s, %(days)s.")
    recording.record("booking_offer_accepted", text, booking=booking, machines=machines, by=by, at=at)
    offer_notices.accepted(offer=offer, booking=booking, by=by, at=at)
    return booking


@deed
def pass_offer(*, offer: Offer, by: Member, at: datetime) -> Booking:
    """Let the days go on to the next, and stay on the list."""
    rivals = offering.beside(offer.booking)
    booking, machines = recording.lock(offer.booking, also=rivals)
    offer = Offer.objects.get(pk=offer.pk)
    if offer.standing == Standing.PASSED and booking.stage == Stage.WAITING:
        _check_may_answer(booking, by)
        return booking
    check_can_answer(offer=offer, booking=booking, by=by)
    offering.end(offer, Standing.PASSED, booking=booking, at=at, rests=True)
    text = _("%(who)s passed on the days offered to %(village)s, %(days)s.")
    offering.note("booking_offer_passed", text, booking=booking, machines=machines, by=by, at=at, offer=offer)
    offer_notices.passed(offer=offer, booking=booking, by=by, at=at)
    offering.offer_next(locked=[*machines, *rivals], at=at)
    return booking


@deed
def offer_out_of_turn(*, booking: Booking, reason: str, by: Member, at: datetime, revision: int | None = None) -> Offer:
    """Offer somebody the days though others come first. An open offer in the way is withdrawn; its place is kept."""
    booking, machines = recording.lock(booking, revision)
    if not by.coordinates:
        raise NotTheirs
    if booking.stage != Stage.WAITING:
        raise NotWaiting(booking=booking)
    if not reason.strip():
        raise OrderReasonMissing
    scheme = Scheme.objects.get()
    [entry] = waiting_list.entries(Booking.objects.filter(pk=booking.pk))
    if entry.offer is not None:
        raise OfferIsOpen
    if entry.why_not:
        raise DoesNotFit(entry.why_not)
    not_before = turns.first_day_to_offer(at=at, zone=scheme.zone)
    if entry.last_start < not_before:
        raise TooLateToOffer
    promised, _every = waiting_list.taken_days([entry], from_day=not_before)
    spell = turns.spell_for(entry.wait, taken=promised, not_before=not_before)
    if spell is not None:

        def why() -> str:
            return _("Offered to another village first. %(reason)s") % {"reason": reason.strip()}

        offering.withdraw_from(turns.held(entry.wait, spell), by=by, at=at, why=why)
        offer = offering.make(entry, spell, scheme=scheme, at=at, by=by, reason=reason.strip()[:300])
    if spell is None or offer is None:
        raise _still_taken(booking, machines, today=at.astimezone(scheme.zone).date())
    offering.offer_next(locked=machines, at=at)
    return offer


def settle(*, at: datetime) -> bool:
    """Look after the list once: end what ran out or no longer fits, and offer what is free. Whether anything was done.

    Any number of rounds, at once or one after the other, do it once.
    """
    scheme = Scheme.objects.current()
    every = waiting_list.entries(Booking.objects.all()) if scheme else []
    if scheme is None or not offering.is_due(every, scheme=scheme, at=at):
        return False
    _settle(at=at)
    return True


@deed
def _settle(*, at: datetime) -> None:
    locked = days.lock_machines({key for keys in waiting_list.wanted_machines().values() for key in keys})
    scheme = Scheme.objects.get()
    ours = {machine.pk for machine in locked}
    for entry in waiting_list.entries(Booking.objects.all()):
        if not entry.wait.care_days.keys() & ours:
            continue  # it came while we waited for the machines: the next round sees it
        if entry.offer is not None and offering.ran_out(entry, at):
            _lapse(entry, entry.offer, at=at)
        elif entry.offer is not None and entry.why_not:
            offering.withdraw(entry.offer, booking=entry.booking, by=None, at=at, why=entry.say_why_not)
        elif offering.is_over(entry, scheme, at):
            _end_over(entry, at=at)
    offering.offer_next(locked=locked, at=at)


def _lapse(entry: Entry, offer: Offer, *, at: datetime) -> None:
    booking = entry.booking
    offering.end(offer, Standing.LAPSED, booking=booking, at=at, rests=True)
    text = _("The offer to %(village)s ran out, %(days)s.")
    offering.note("booking_offer_lapsed", text, booking=booking, machines=entry.machines, by=None, at=at, offer=offer)
    offer_notices.lapsed(offer=offer, booking=booking, at=at)


def _end_over(entry: Entry, *, at: datetime) -> None:
    booking = entry.booking
    recording.end(Stage.CALLED_OFF, booking=booking, reason=_("The days came before they were freed."), at=at)
    text = _("%(village)s waited for %(machines)s, %(days)s, until the days came.")
    recording.record("booking_waiting_left", text, booking=booking, machines=entry.machines, by=None, at=at)
    offer_notices.left(booking=booking, by=None, at=at)


def _still_taken(booking: Booking, machines: list[Machine], *, today: date) -> MachineTaken:
    return MachineTaken(
        taken=days.holdings(machines=machines, period=booking.period, besides=booking),
        nearest=days.nearest_free(machines=machines, wanted=booking.period, today=today, besides=booking),
    )


def check_can_answer(*, offer: Offer, booking: Booking, by: Member) -> None:
    """A coordinator or a borrower of the village, while the offer is open."""
    _check_may_answer(booking, by)
    if not offer.is_open:
        raise OfferEnded(offer=offer)


def _check_may_answer(booking: Booking, by: Member) -> None:
    if not by.acts_for(booking.village):
        raise NotTheirs
