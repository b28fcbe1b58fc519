"""The waiting list under whatever is done around it, in any order: the same few things stay true after each deed."""

import random
from collections import Counter
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing, offers, waiting, waiting_list
from kitshare.bookings.models import BookedDay, Booking, ClosedKind, ClosedSpell, Stage
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.waiting_models import Offer
from kitshare.rules import turns
from kitshare.rules.periods import Period
from tests.bookings.waiters import on, village_of

pytestmark = pytest.mark.django_db

FIRST = date(2027, 9, 12)
STEPS = 40


class Yard:
    """Three villages, a few machines, and a clock that goes on; what is done next is drawn by lot."""

    def __init__(self, seed, machines, coordinator):
        self.lot = random.Random(seed)
        self.machines = machines
        self.by = coordinator
        self.villages = [village_of(f"Village {number}", f"Borrower{number} Name") for number in range(3)]
        self.at = on(1)
        self.done = Counter()

    def asked(self):
        village = self.lot.choice(self.villages)
        start = FIRST + timedelta(days=self.lot.randint(0, 2))
        return self.signed() | {
            "village": village,
            "borrower": village.borrowers.get(),
            "machines": self.lot.sample(self.machines, self.lot.choice([1, 2, 2])),
            "period": Period(start=start, end=start + timedelta(days=self.lot.randint(1, 2))),
            "fruit_amount": Decimal(100),
            "fruit_unit": "kg",
            "note": "",
            "today": self.at.date(),
        }

    def signed(self):
        return {"by": self.by, "at": self.at}

    def one(self, rows):
        """Any of them, or the deed is not to be done."""
        found = list(rows.order_by("pk"))
        if not found:
            raise LookupError
        return self.lot.choice(found)

    # Deeds

    def book(self):
        bookings.book_kit(**self.asked())

    def wait(self):
        waiting.wait_for_days(**self.asked(), play_days=self.lot.choice([0, 0, 1, 2]))

    def call_off(self):
        booking = self.one(Booking.objects.ahead())
        bookings.call_off(booking=booking, reason="", revision=booking.revision, **self.signed())

    def change(self):
        booking = self.one(Booking.objects.ahead())
        asked = self.asked()
        del asked["village"], asked["borrower"]
        bookings.change_booking(booking=booking, revision=booking.revision, **asked)

    def accept(self):
        offers.accept_offer(offer=self.one(Offer.objects.open()), today=self.at.date(), **self.signed())

    def pass_on(self):
        offers.pass_offer(offer=self.one(Offer.objects.open()), **self.signed())

    def leave(self):
        waiting.leave_list(booking=self.one(Booking.objects.waiting()), **self.signed())

    def move(self):
        earlier = self.lot.random() < 0.5
        booking = self.one(Booking.objects.waiting())
        waiting.move_in_order(booking=booking, earlier=earlier, reason="Why not.", **self.signed())

    def out_of_turn(self):
        offers.offer_out_of_turn(booking=self.one(Booking.objects.waiting()), reason="Frost.", **self.signed())

    def close(self):
        day = FIRST + timedelta(days=self.lot.randint(0, 4))
        closed = {"first_day": day, "last_day": day, "reason": "A new seal", "depot": None, "today": self.at.date()}
        closing.close_days(kind=ClosedKind.SERVICE, machines=self.machines[:1], **closed, **self.signed())

    def open_again(self):
        closing.open_again(spell=self.one(ClosedSpell.objects.all()), today=self.at.date(), **self.signed())

    def settle(self):
        offers.settle(at=self.at)

    def step(self):
        often = [self.book, self.wait, self.wait, self.call_off, self.accept, self.pass_on]
        seldom = [self.change, self.leave, self.move, self.out_of_turn, self.close, self.open_again, self.settle]
        deed = self.lot.choice(often * 4 + seldom)
        self.at += timedelta(hours=self.lot.choice([0, 0, 1, 6]))
        try:
            with transaction.atomic():
                deed()
        except (BookingRefused, closing.ClosingRefused, LookupError):
            return
        self.done[deed.__name__] += 1


def check_that_whoever_waits_holds_what_is_offered_to_them_and_nothing_else():
    offered = {offer.booking_id: offer for offer in Offer.objects.open()}
    for entry in waiting_list.entries(Booking.objects.all()):
        held = set(entry.booking.days.values_list("machine_id", "day"))
        offer = offered.pop(entry.booking.pk, None)
        assert held == (turns.held(entry.wait, offer.period) if offer else set())
        assert entry.booking.period == (offer.period if offer else entry.wait.wanted)
    assert offered == {}
    assert not BookedDay.objects.filter(booking__stage__in=[Stage.CALLED_OFF, Stage.DECLINED]).exists()


def check_that_a_round_leaves_nobody_waiting_for_days_that_are_free(at):
    offers.settle(at=at)
    assert not offers.settle(at=at)
    not_before = turns.first_day_to_offer(at=at, zone=at.tzinfo)
    every = waiting_list.entries(Booking.objects.all())
    _promised, taken = waiting_list.taken_days(every, from_day=not_before)
    for entry in every:
        if entry.offer is None and not entry.why_not and not entry.place.rests:
            assert turns.spell_for(entry.wait, taken=taken, not_before=not_before) is None


@pytest.mark.one_engine  # one deed after the other: what two do at once is tried in the races, on both
@pytest.mark.parametrize("seed", [0, 1, 4])
def test_whatever_is_done_offers_hold_their_days_and_nobody_is_passed_over(seed, season, mill, otter_mill, perpetua):
    yard = Yard(seed, [mill, otter_mill], perpetua)

    for number in range(STEPS):
        yard.step()
        check_that_whoever_waits_holds_what_is_offered_to_them_and_nothing_else()
        if number % 10 == 9:
            check_that_a_round_leaves_nobody_waiting_for_days_that_are_free(yard.at)

    assert yard.done["wait"] >= 4
    assert yard.done["accept"] + yard.done["pass_on"] >= 2
