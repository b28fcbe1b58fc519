"""Answers, rounds, bookings and rivals at the same moment, on either engine: one winner, and nobody meets a lock."""

import pytest

from kitshare.bookings import offers
from kitshare.bookings.models import BookedDay, Booking, DayKind, Stage
from kitshare.bookings.refusals import KitUnfit, MachineTaken
from kitshare.bookings.waiting_models import Offer, Standing
from kitshare.bookings.waiting_refusals import DaysAreFree, NotWaiting, OfferEnded
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.bookings.waiters import free, holders, linnowby, open_offers, taken, village_of, wait
from tests.racing import at_once

__all__ = ["free", "linnowby", "taken", "wait"]

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.race]


@pytest.fixture
def offer(taken, wait, free, fennerlow, linnowby) -> Offer:
    """The weekend is offered to Fennerlow; Linnowby waits behind."""
    wait(fennerlow)
    wait(linnowby)
    free(taken)
    return Offer.objects.get()


@pytest.fixture
def accept(offer, leilani, today):
    def accept(by=None, at=None):
        return offers.accept_offer(offer=offer, by=by or leilani, at=at or offer.until, today=today)

    return accept


def names(given) -> list[str]:
    return sorted(type(one).__name__ for one in given)


@pytest.mark.parametrize("attempt", range(3))
def test_an_answer_and_the_round_that_ends_the_offer_have_one_winner(attempt, offer, accept, mill):
    answer, _round = at_once(accept, lambda: offers.settle(at=offer.until))

    offer.refresh_from_db()
    if isinstance(answer, Booking):
        assert (answer.stage, offer.standing) == (Stage.ASKED, Standing.ACCEPTED)
        assert holders(mill) == ["Fennerlow"]
        assert open_offers() == []
    else:
        assert isinstance(answer, OfferEnded)
        assert offer.standing == Standing.LAPSED
        assert holders(mill) == ["Linnowby"]
        assert open_offers() == [("Linnowby", "11-13")]


def test_accepted_by_several_at_once_it_is_accepted_once(offer, accept, leilani, perpetua):
    given = at_once(*[lambda who=who: accept(by=who) for who in (leilani, perpetua) * 3])

    assert names(given) == ["Booking"] * 6
    assert len({booking.revision for booking in given}) == 1
    assert Message.objects.filter(key__startswith=f"offer-accepted:{offer.pk}:").count() == 1


@pytest.mark.parametrize("attempt", range(2))
def test_accepting_and_passing_at_once_is_one_of_the_two(attempt, offer, accept, perpetua, mill):
    accepted, passed = at_once(accept, lambda: offers.pass_offer(offer=offer, by=perpetua, at=offer.made_at))

    assert [type(accepted), type(passed)].count(OfferEnded) == 1
    assert holders(mill) == ["Fennerlow" if isinstance(accepted, Booking) else "Linnowby"]


def test_a_booking_never_gets_days_that_are_offered(offer, accept, ask, mill):
    accepted, *asked = at_once(accept, *[ask] * 3)

    assert isinstance(accepted, Booking)
    assert names(asked) == ["MachineTaken"] * 3
    assert holders(mill) == ["Fennerlow"]


def test_rounds_at_once_end_an_offer_and_make_the_next_once(offer, mill):
    at_once(*[lambda: offers.settle(at=offer.until)] * 4)

    assert list(Offer.objects.order_by("pk").values_list("standing", flat=True)) == [Standing.LAPSED, Standing.OPEN]
    assert Message.objects.filter(key__startswith="offer-lapsed").count() == 1
    assert Message.objects.filter(key__startswith="offer-made").count() == 2
    assert holders(mill) == ["Linnowby"]


@pytest.mark.parametrize("attempt", range(2))
def test_days_that_run_out_go_to_the_next_or_to_whoever_asks_but_to_one(attempt, offer, ask, linnowby, perpetua, mill):
    Booking.objects.filter(village=linnowby).update(stage=Stage.CALLED_OFF)

    _round, *asked = at_once(lambda: offers.settle(at=offer.until), *[ask] * 3)

    assert {type(one) for one in asked} <= {Booking, MachineTaken}
    assert len([one for one in asked if isinstance(one, Booking)]) <= 1
    assert len(holders(mill)) <= 1


@pytest.mark.parametrize("attempt", range(2))
def test_two_that_free_days_for_waits_that_cross_stay_out_of_each_others_way(
    attempt, ask, wait, free, mill, press, otter_mill, fennerlow, leilani, linnowby
):
    """Each of the two bookings is waited for together with the other's machine."""
    first, second = ask(machines=[mill]), ask(machines=[otter_mill], by=leilani, village=fennerlow, borrower=leilani)
    wait(linnowby, machines=[otter_mill, mill])
    wait(village_of("Coldmallow", "Marek Ostrowick"), machines=[mill, press])
    wait(village_of("Nether Larkenhoe", "Zubaida Hartlemoss"), machines=[press, otter_mill])

    ended = at_once(lambda: free(first), lambda: free(second))

    assert names(ended) == ["Booking", "Booking"]
    offers.settle(at=first.asked_at)
    booked = BookedDay.objects.filter(kind=DayKind.BOOKED).values_list("machine", "day")
    assert len(set(booked)) == len(booked) > 0
    # Whoever was first has all of it, or, where the other machine was still held, those behind were asked.
    assert {name for name, _days in open_offers()} in (
        {"Linnowby"},
        {"Coldmallow"},
        {"Nether Larkenhoe"},
    )


@pytest.mark.parametrize("attempt", range(2))
def test_whoever_begins_to_wait_while_the_days_are_freed_is_not_forgotten(attempt, taken, wait, free, fennerlow):
    waits, _freed = at_once(lambda: wait(fennerlow), lambda: free(taken))

    offers.settle(at=taken.asked_at)
    assert isinstance(waits, Booking | DaysAreFree)
    assert open_offers() == ([("Fennerlow", "11-13")] if isinstance(waits, Booking) else [])


@pytest.mark.parametrize("attempt", range(2))
def test_an_offer_out_of_turn_and_an_answer_have_one_winner(attempt, offer, accept, linnowby, perpetua, mill):
    second = Booking.objects.waiting().get(village=linnowby)

    answer, other = at_once(
        accept, lambda: offers.offer_out_of_turn(booking=second, reason="Frost.", by=perpetua, at=offer.made_at)
    )

    if isinstance(answer, Booking):
        assert isinstance(other, MachineTaken)
        assert holders(mill) == ["Fennerlow"]
    else:
        assert isinstance(answer, OfferEnded | NotWaiting)
        assert isinstance(other, Offer)
        assert holders(mill) == ["Linnowby"]


@pytest.mark.parametrize("attempt", range(2))
def test_a_fault_reported_during_an_answer_stops_it_or_comes_after_it(attempt, offer, accept, mill, teodor, now):
    def report():
        return upkeep.report_fault(
            machine=mill, part=None, note="Blade nicked", severity=Severity.STOPS_USE, by=teodor, at=now
        )

    answer, fault = at_once(accept, report)

    assert isinstance(fault, Fault)
    assert isinstance(answer, Booking | KitUnfit)
    offers.settle(at=offer.made_at)
    assert holders(mill) == (["Fennerlow"] if isinstance(answer, Booking) else [])
