"""The waiting list: who is asked when days are freed, in which order, and what becomes of the answer."""

from datetime import date, time
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing, eligibility, feeds, leaving, offers, retiring, signing, waiting, waiting_list
from kitshare.bookings.models import BookedDay, Booking, ClosedKind, Stage
from kitshare.bookings.refusals import DayIsPast, DoesNotSign, KitUnfit, MachineTaken, NotTheirs
from kitshare.bookings.waiting_models import Offer, Standing, WaitingPlace
from kitshare.bookings.waiting_refusals import (
    DaysAreFree,
    NobodyThere,
    NotWaiting,
    OfferEnded,
    OrderReasonMissing,
    WaitsAlready,
)
from kitshare.checks import gates
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Channel, Message
from kitshare.upkeep import actions as upkeep
from tests.bookings.conftest import september
from tests.bookings.waiters import (
    WEEKEND,
    ferrow,
    free,
    holders,
    later,
    linnowby,
    on,
    open_offers,
    taken,
    wait,
)

__all__ = ["ferrow", "free", "linnowby", "taken", "wait"]

pytestmark = pytest.mark.django_db


def accept(offer: Offer, by, at, today):
    return offers.accept_offer(offer=offer, by=by, at=at, today=today)


def told(word: str) -> list[tuple[str, str]]:
    return list(Message.objects.filter(key__startswith=word).order_by("pk").values_list("to_name", "channel"))


# Joining


def test_whoever_waits_holds_no_day_and_takes_none_from_anybody(taken, wait, fennerlow, mill):
    booking = wait(fennerlow)

    assert booking.stage == Stage.WAITING
    assert not booking.days.exists()
    assert holders(mill) == ["Sorrelhythe"]


def test_a_form_sent_twice_is_one_place_on_the_list(taken, wait, fennerlow):
    key = {"form_key": waiting.uuid.uuid4()}

    assert wait(fennerlow, **key) == wait(fennerlow, **key)
    assert WaitingPlace.objects.count() == 1


def test_nobody_waits_for_days_that_are_free(wait, fennerlow, mill):
    with pytest.raises(DaysAreFree):
        wait(fennerlow)


def test_a_village_waits_once_for_the_same_days(taken, wait, fennerlow):
    wait(fennerlow)

    with pytest.raises(WaitsAlready):
        wait(fennerlow, fruit_amount=Decimal("10"))


@pytest.mark.parametrize("play_days", [-1, 4])
def test_play_is_a_few_days(taken, wait, fennerlow, play_days):
    with pytest.raises(waiting.PlayNotSensible):
        wait(fennerlow, play_days=play_days)


def test_one_borrower_does_not_wait_for_anothers_village(taken, wait, fennerlow, sunniva):
    with pytest.raises(NotTheirs):
        wait(fennerlow, by=sunniva)


def test_with_some_play_a_spell_beside_it_is_offered_at_once(ask, wait, fennerlow, mill):
    ask(period=september(12, 14))

    booking = wait(fennerlow, play_days=3)

    assert open_offers() == [("Fennerlow", "09-11")]  # care on the 11th; the nearest that is free
    assert (booking.out_on, booking.back_on) == (date(2027, 9, 9), date(2027, 9, 11))


# Freed days


def test_called_off_days_are_offered_to_the_first_who_waits(taken, wait, free, fennerlow, linnowby, mill, now):
    first, second = wait(fennerlow), wait(linnowby)

    free(taken)

    assert open_offers() == [("Fennerlow", "11-13")]
    assert holders(mill) == ["Fennerlow"]
    assert Booking.objects.get(pk=first.pk).stage == Stage.WAITING
    assert not second.offers.exists()
    assert told("offer-made") == [("Leilani Crabbwater", Channel.MAIL)]


def test_declined_days_are_offered(taken, wait, fennerlow, perpetua, now):
    wait(fennerlow)

    bookings.decline(booking=taken, reason="No.", by=perpetua, at=now, revision=taken.revision)

    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_of_a_booking_that_moves_are_offered(taken, change, wait, fennerlow):
    wait(fennerlow)

    change(taken, period=september(18, 20))

    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_of_a_shortened_booking_are_offered_only_if_the_care_days_fit_too(ask, change, wait, fennerlow):
    long = ask(period=september(8, 13))
    wait(fennerlow, period=september(11, 13))

    change(long, period=september(8, 11))
    assert open_offers() == []  # the day of care on the 11th

    long.refresh_from_db()
    change(long, period=september(8, 10))
    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_not_used_after_an_early_return_are_offered(agreed, wait, fennerlow, sunniva):
    out = bookings.mark_out(booking=agreed(period=september(2, 13)), by=sunniva, at=on(2))
    wait(fennerlow)

    bookings.mark_back(booking=out, by=sunniva, at=on(6), today=date(2027, 9, 6))

    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_of_a_closed_spell_that_opens_again_are_offered(wait, fennerlow, mill, depot, perpetua, now, today):
    closed = {"first_day": WEEKEND.start, "last_day": WEEKEND.end, "reason": "Roof", "machines": []}
    spell = closing.close_days(kind=ClosedKind.DEPOT, depot=depot, by=perpetua, at=now, today=today, **closed)
    wait(fennerlow)

    closing.open_again(spell=spell, by=perpetua, at=now, today=today)

    assert open_offers() == [("Fennerlow", "11-13")]


def test_who_needs_more_than_was_freed_waits_on_and_the_next_is_asked(
    ask, taken, wait, free, fennerlow, linnowby, mill, press
):
    ask(machines=[press])
    wait(fennerlow, machines=[mill, press])
    wait(linnowby)

    free(taken)

    assert open_offers() == [("Linnowby", "11-13")]


def test_days_of_one_kit_are_offered_with_those_of_another_that_is_free(
    ask, taken, wait, free, fennerlow, otter_mill, mill
):
    wait(fennerlow, machines=[otter_mill, mill])

    free(taken)

    assert open_offers() == [("Fennerlow", "11-13")]
    assert holders(otter_mill) == holders(mill) == ["Fennerlow"]


def test_freed_days_too_soon_to_answer_for_are_offered_to_nobody(agreed, wait, free, fennerlow, now):
    today_only = agreed(period=september(1, 3))
    wait(fennerlow, period=september(1, 3), at=on(1, 6))

    free(today_only)  # at half past nine on that day

    assert open_offers() == []


def test_a_line_of_the_logbook_says_what_was_offered(taken, wait, free, fennerlow):
    booking = wait(fennerlow)

    free(taken)

    line = Entry.objects.about(booking).first()
    assert line.text == "Offered Heron mill to Fennerlow, Sat 11 Sep to Mon 13 Sep."
    assert line.by_name == "Kitshare"


def test_whoever_is_offered_days_collects_once_the_village_before_is_back(ask, wait, free, fennerlow, mill, heron):
    heron.care_days = 0
    heron.save()
    late = ask(out_time=time(18))
    ask(period=september(9, 11), back_time=time(17))
    wait(fennerlow)

    free(late)

    booking = Offer.objects.get().booking
    assert (booking.out_time, booking.back_time) == (time(17), time(9))


# Until when


def test_an_offer_stands_for_the_schemes_hours(taken, wait, free, fennerlow, scheme, now):
    scheme.offer_hours = 5
    scheme.save()
    wait(fennerlow)

    free(taken)

    assert Offer.objects.get().until == later(now, hours=5)


def test_an_offer_is_shorter_when_the_days_are_near(agreed, wait, free, fennerlow, now):
    near = agreed(period=september(3, 5))
    wait(fennerlow, period=september(3, 5))

    free(near)

    # Fetched at eight on Friday, 46.5 hours from now: a quarter of that, and not in the night.
    assert Offer.objects.get().until == on(1, 21, 7).replace(day=2, hour=9, minute=0)


# Answers


@pytest.fixture
def offer(taken, wait, free, fennerlow, linnowby) -> Offer:
    """The weekend is offered to Fennerlow; Linnowby waits behind."""
    wait(fennerlow)
    wait(linnowby)
    free(taken)
    return Offer.objects.get()


def test_an_accepted_offer_is_a_booking_that_the_coordinator_agrees(offer, leilani, perpetua, now, today, mill):
    booking = accept(offer, leilani, now, today)

    assert booking.stage == Stage.ASKED
    assert holders(mill) == ["Fennerlow"]
    assert not WaitingPlace.objects.filter(booking=booking).exists()
    assert told("offer-accepted") == [("Perpetua Quillstone", Channel.MAIL)]
    agreed = bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)
    assert agreed.stage == Stage.AGREED


def test_accepting_twice_is_accepting_once(offer, leilani, perpetua, now, today):
    first = accept(offer, leilani, now, today)

    second = accept(offer, perpetua, now, today)

    assert (second.pk, second.revision) == (first.pk, first.revision)
    assert len(told("offer-accepted")) == 1


def test_a_coordinator_accepts_for_a_village_that_rang(offer, perpetua, now, today):
    accept(offer, perpetua, now, today)

    assert told("offer-accepted") == [("Leilani Crabbwater", Channel.MAIL)]


def test_nobody_answers_for_another_village(offer, sunniva, teodor, now, today):
    for stranger in (sunniva, teodor):
        with pytest.raises(NotTheirs):
            accept(offer, stranger, now, today)
        with pytest.raises(NotTheirs):
            offers.pass_offer(offer=offer, by=stranger, at=now)


def test_passed_days_go_to_the_next_and_whoever_passed_stays_on_the_list(offer, leilani, now, mill):
    booking = offers.pass_offer(offer=offer, by=leilani, at=now)

    assert open_offers() == [("Linnowby", "11-13")]
    assert booking.stage == Stage.WAITING
    assert WaitingPlace.objects.get(booking=booking).rests
    assert told("offer-passed") == []


def test_passing_twice_is_passing_once(offer, leilani, perpetua, now):
    offers.pass_offer(offer=offer, by=leilani, at=now)
    offers.pass_offer(offer=offer, by=perpetua, at=now)

    assert Offer.objects.filter(standing=Standing.PASSED).count() == 1
    assert open_offers() == [("Linnowby", "11-13")]


def test_once_all_have_passed_the_days_are_free_and_nobody_is_asked_twice(offer, perpetua, ask, now):
    offers.pass_offer(offer=offer, by=perpetua, at=now)
    offers.pass_offer(offer=Offer.objects.open().get(), by=perpetua, at=now)

    assert not offers.settle(at=later(now, minutes=1))
    assert open_offers() == []
    assert BookedDay.objects.count() == 0
    ask()


def test_whoever_passed_is_asked_again_once_the_days_were_taken_and_freed_anew(offer, perpetua, ask, free, now):
    offers.pass_offer(offer=offer, by=perpetua, at=now)
    offers.pass_offer(offer=Offer.objects.open().get(), by=perpetua, at=now)
    again = ask()
    offers.settle(at=later(now, minutes=1))

    free(again)

    assert open_offers() == [("Fennerlow", "11-13")]


def test_an_offer_that_ended_cannot_be_answered(offer, leilani, now, today):
    offers.settle(at=offer.until)

    with pytest.raises(OfferEnded, match="ran out"):
        accept(offer, leilani, later(offer.until, minutes=1), today)
    with pytest.raises(OfferEnded):
        offers.pass_offer(offer=offer, by=leilani, at=later(offer.until, minutes=1))


def test_an_answer_that_comes_before_the_round_counts(offer, leilani, today):
    booking = accept(offer, leilani, later(offer.until, minutes=1), today)
    offers.settle(at=later(offer.until, minutes=2))

    assert booking.stage == Stage.ASKED
    assert Offer.objects.get().standing == Standing.ACCEPTED


def test_days_that_came_meanwhile_cannot_be_accepted(offer, leilani):
    with pytest.raises(DayIsPast):
        accept(offer, leilani, on(12), date(2027, 9, 12))


def test_a_machine_set_aside_meanwhile_cannot_be_accepted(offer, leilani, mill, set_aside, now, today):
    set_aside(mill)

    with pytest.raises(KitUnfit):
        accept(offer, leilani, now, today)


def test_offered_days_are_refused_to_others_with_the_word_offered(offer, ask):
    with pytest.raises(MachineTaken, match=r"Heron mill: offered to Fennerlow from the waiting list, Sat 11 Sep"):
        ask()


# The round


def test_an_offer_that_runs_out_goes_to_the_next_and_says_so_once(offer, mill):
    assert offers.settle(at=offer.until)
    assert not offers.settle(at=offer.until)

    assert open_offers() == [("Linnowby", "11-13")]
    assert Offer.objects.get(pk=offer.pk).standing == Standing.LAPSED
    assert told("offer-lapsed") == [("Leilani Crabbwater", Channel.MAIL)]
    assert told("offer-made") == [("Leilani Crabbwater", Channel.MAIL), ("Hamza Wetherlow", Channel.MAIL)]


def test_the_round_does_nothing_while_an_offer_stands(offer):
    assert not offers.settle(at=later(offer.until, minutes=-1))


def test_without_anybody_waiting_the_round_asks_twice_and_writes_nothing(scheme, now, django_assert_num_queries):
    with django_assert_num_queries(2):
        assert not offers.settle(at=now)


def test_a_member_without_an_address_is_to_be_telephoned(taken, wait, free, ferrow):
    wait(ferrow)

    free(taken)

    assert told("offer-made") == [("Emrys ap Ferrow", Channel.TELEPHONE)]


def test_a_machine_that_is_released_is_offered_by_the_round(
    taken, wait, free, fennerlow, mill, set_aside, teodor, perpetua, now
):
    wait(fennerlow)
    fault = set_aside(mill)
    free(taken)
    assert open_offers() == []
    taken_up = upkeep.mend_fault(fault=fault, note="New pin.", by=teodor, at=now, revision=fault.revision)
    upkeep.release_fault(fault=taken_up, retest_note="Ran.", by=perpetua, at=now, revision=taken_up.revision)

    assert offers.settle(at=now)

    assert open_offers() == [("Fennerlow", "11-13")]


def test_an_offer_of_a_machine_set_aside_is_withdrawn_and_the_place_is_kept(offer, mill, set_aside, now):
    set_aside(mill)

    offers.settle(at=now)

    assert open_offers() == []
    assert Offer.objects.get().standing == Standing.WITHDRAWN
    assert not WaitingPlace.objects.filter(rests=True).exists()
    assert told("offer-withdrawn") == [("Leilani Crabbwater", Channel.MAIL)]


def test_a_village_that_left_the_scheme_is_passed_over(taken, wait, free, fennerlow, linnowby, perpetua, now, today):
    wait(fennerlow)
    wait(linnowby)
    leaving.let_village_leave(village=fennerlow, on=today, by=perpetua, at=now)

    free(taken)

    assert open_offers() == [("Linnowby", "11-13")]


def test_a_wait_ends_when_its_days_come(taken, wait, fennerlow):
    booking = wait(fennerlow)

    offers.settle(at=on(11, 12))

    booking.refresh_from_db()
    assert (booking.stage, booking.reason) == (Stage.CALLED_OFF, "The days came before they were freed.")
    assert told("waiting-left") == [("Leilani Crabbwater", Channel.MAIL)]


def test_a_round_offers_what_nobody_else_noticed(taken, wait, fennerlow, now):
    wait(fennerlow)
    BookedDay.objects.all().delete()

    assert offers.settle(at=now)

    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_that_are_closed_are_taken_back_from_whoever_they_were_offered_to(
    offer, mill, depot, perpetua, now, today
):
    closed = {"first_day": WEEKEND.start, "last_day": WEEKEND.start, "reason": "Roof repairs", "machines": []}
    closing.close_days(kind=ClosedKind.DEPOT, depot=depot, by=perpetua, at=now, today=today, **closed)

    assert open_offers() == []
    body = Message.objects.get(key__startswith="offer-withdrawn").body
    assert "The reason: The days are closed: Roof repairs" in body
    assert not offers.settle(at=now)


def test_whoever_no_longer_signs_cannot_be_offered_days_until_another_does(
    offer, leilani, sunniva, fennerlow, perpetua, now, today
):
    fennerlow.borrowers.set([sunniva])
    with pytest.raises(DoesNotSign):
        accept(offer, perpetua, now, today)
    offers.settle(at=now)
    assert open_offers() == [("Linnowby", "11-13")]

    booking = Booking.objects.get(pk=offer.booking_id)
    signing.sign_over(booking=booking, borrower=sunniva, by=perpetua, at=now, revision=booking.revision)
    offers.pass_offer(offer=Offer.objects.open().get(), by=perpetua, at=now)

    assert open_offers() == [("Fennerlow", "11-13")]


# Leaving and overruling


def test_whoever_leaves_hands_on_what_was_offered(offer, leilani, now, mill):
    booking = waiting.leave_list(booking=offer.booking, by=leilani, at=now)

    assert booking.stage == Stage.CALLED_OFF
    assert open_offers() == [("Linnowby", "11-13")]
    assert holders(mill) == ["Linnowby"]


def test_nobody_leaves_for_another_village_or_twice(taken, wait, fennerlow, sunniva, leilani, now):
    booking = wait(fennerlow)
    with pytest.raises(NotTheirs):
        waiting.leave_list(booking=booking, by=sunniva, at=now)

    waiting.leave_list(booking=booking, by=leilani, at=now)

    with pytest.raises(NotWaiting):
        waiting.leave_list(booking=booking, by=leilani, at=now)


def order() -> list[str]:
    return [booking.village.name for booking in waiting_list.in_order().select_related("village")]


def test_the_coordinator_changes_the_order_with_a_reason_in_the_logbook(
    taken, wait, free, fennerlow, linnowby, perpetua, now
):
    wait(fennerlow)
    second = wait(linnowby)

    waiting.move_in_order(booking=second, earlier=True, reason="Their apples fell early.", by=perpetua, at=now)

    assert order() == ["Linnowby", "Fennerlow"]
    assert "before Fennerlow. Their apples fell early." in Entry.objects.about(second).first().text
    free(taken)
    assert open_offers() == [("Linnowby", "11-13")]


def test_moving_later_and_earlier_again_gives_the_old_order(taken, wait, fennerlow, linnowby, perpetua, now):
    first = wait(fennerlow)
    wait(linnowby)
    for earlier in (False, True):
        waiting.move_in_order(booking=first, earlier=earlier, reason="Why not.", by=perpetua, at=now)

    assert order() == ["Fennerlow", "Linnowby"]


def test_only_rivals_change_places(taken, ask, wait, fennerlow, linnowby, otter_mill, perpetua, now):
    ask(machines=[otter_mill])
    wait(fennerlow, machines=[otter_mill])
    second = wait(linnowby)

    with pytest.raises(NobodyThere):
        waiting.move_in_order(booking=second, earlier=True, reason="Why not.", by=perpetua, at=now)


def test_the_order_is_not_overruled_silently_or_by_a_borrower(taken, wait, fennerlow, perpetua, leilani, now):
    booking = wait(fennerlow)

    with pytest.raises(OrderReasonMissing):
        waiting.move_in_order(booking=booking, earlier=True, reason="  ", by=perpetua, at=now)
    with pytest.raises(OrderReasonMissing):
        offers.offer_out_of_turn(booking=booking, reason="", by=perpetua, at=now)
    with pytest.raises(NotTheirs):
        waiting.move_in_order(booking=booking, earlier=True, reason="Mine.", by=leilani, at=now)
    with pytest.raises(NotTheirs):
        offers.offer_out_of_turn(booking=booking, reason="Mine.", by=leilani, at=now)


def test_days_offered_out_of_turn_are_taken_from_whoever_has_the_offer_and_keeps_the_place(
    offer, linnowby, perpetua, now, mill
):
    second = Booking.objects.waiting().get(village=linnowby)

    made = offers.offer_out_of_turn(booking=second, reason="Frost is coming there.", by=perpetua, at=now)

    assert open_offers() == [("Linnowby", "11-13")]
    assert holders(mill) == ["Linnowby"]
    assert told("offer-withdrawn") == [("Leilani Crabbwater", Channel.MAIL)]
    assert "out of turn" in Entry.objects.about(second).first().text
    offers.pass_offer(offer=made, by=perpetua, at=now)
    assert open_offers() == [("Fennerlow", "11-13")]


def test_days_that_are_promised_are_not_offered_out_of_turn(taken, wait, fennerlow, perpetua, now):
    booking = wait(fennerlow)

    with pytest.raises(MachineTaken, match="with Sorrelhythe"):
        offers.offer_out_of_turn(booking=booking, reason="They asked nicely.", by=perpetua, at=now)


# Promises of the database


def refused_by(name: str, columns: str = ""):
    return pytest.raises(IntegrityError, match=f"{name}|{columns or name}")


def test_a_booking_has_one_open_offer(offer):
    offer.pk = None

    with refused_by("one_open_offer_to_a_booking", "bookings_offer.booking_id"), transaction.atomic():
        offer.save(force_insert=True)


@pytest.mark.parametrize(
    ("change", "promise"),
    [
        ({"standing": "accepted"}, "offer_that_ended_says_when"),
        ({"ended_at": on(2)}, "offer_that_ended_says_when"),
        ({"until": on(1)}, "offer_stands_for_some_time"),
        ({"back_on": WEEKEND.start}, "offer_goes_out_before_it_is_back"),
    ],
)
def test_an_offer_is_what_it_says(offer, change, promise):
    with refused_by(promise), transaction.atomic():
        Offer.objects.filter(pk=offer.pk).update(**change)


def test_a_place_is_what_it_says(offer, perpetua):
    with refused_by("waiting_play_is_short"), transaction.atomic():
        WaitingPlace.objects.update(play_days=4)
    with refused_by("waiting_place_moved_says_why"), transaction.atomic():
        WaitingPlace.objects.update(moved_by=perpetua, moved_at=on(1))


@pytest.mark.parametrize("hours", [0, 169])
def test_offers_stand_for_an_hour_to_a_week(scheme, hours):
    with refused_by("offers_stand_an_hour_to_a_week"), transaction.atomic():
        type(scheme).objects.update(offer_hours=hours)


# What others see of it


def test_no_calendar_shows_who_waits_or_is_offered_days_or_has_left_the_list(offer, linnowby, perpetua, scheme, now):
    second = Booking.objects.waiting().get(village=linnowby)
    waiting.leave_list(booking=second, by=perpetua, at=now)

    shown = feeds.shown_in_a_feed(Booking.objects.all(), at=now)

    assert {booking.village.name for booking in shown} == {"Sorrelhythe"}  # called off, and struck


def test_whoever_waits_is_not_at_risk_or_in_the_way_of_a_machine_that_retires(
    taken, wait, free, fennerlow, mill, set_aside, perpetua, now, today
):
    wait(fennerlow)
    free(taken)
    set_aside(mill)
    assert not Booking.objects.at_risk(today).exists()

    retiring.retire_machine(machine=mill, by=perpetua, at=now, today=today)
    offers.settle(at=now)

    assert open_offers() == []
    assert told("offer-withdrawn") == [("Leilani Crabbwater", Channel.MAIL)]


def test_a_booking_that_waits_is_not_agreed_changed_called_off_or_handed_over(taken, wait, fennerlow, perpetua, today):
    booking = wait(fennerlow)
    machines = list(booking.machines.all())

    assert not eligibility.agree_can(booking=booking, machines=machines, by=perpetua, today=today)
    assert not eligibility.decline_can(booking=booking, by=perpetua)
    assert not eligibility.change_can(booking=booking, by=perpetua)
    assert not eligibility.call_off_can(booking=booking, by=perpetua)
    with pytest.raises(gates.WrongStage, match="waiting list"):
        gates.check_pickup_can_start(booking=booking, by=perpetua, today=today)
    with pytest.raises(gates.WrongStage, match="waiting list"):
        gates.check_return_can_start(booking=booking, by=perpetua)
