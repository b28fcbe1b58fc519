"""Asking, agreeing, changing, calling off, handing over and taking back."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings.actions import weigh
from kitshare.bookings.models import BookedDay, Booking, DayKind, Season, Stage
from kitshare.bookings.refusals import (
    BookingRefused,
    ChangedMeanwhile,
    DayIsPast,
    DoesNotSign,
    FruitNotSensible,
    KitUnfit,
    MachineRetired,
    MachineStillOut,
    MachineTaken,
    NoMachine,
    NotAtThisStage,
    NotTheirs,
    OutsideSeason,
    ReasonMissing,
    TooLong,
    VillageHasLeft,
    WeightNotSaid,
)
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.periods import Period
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


def rows_of(machine):
    return [(row.day.day, row.kind) for row in machine.days.order_by("day")]


def told(event):
    return set(Message.objects.filter(key__startswith=f"booking-{event}:").values_list("to_name", flat=True))


# Asking


def test_an_asked_booking_holds_its_days_and_the_care_days_after_them(ask, mill):
    booking = ask()

    assert booking.stage == Stage.ASKED
    assert rows_of(mill) == [(11, DayKind.BOOKED), (12, DayKind.BOOKED), (13, DayKind.CARE)]


def test_each_machine_has_the_care_days_of_its_own_kit(ask, mill, otter, otter_mill):
    otter.care_days = 3
    otter.save()

    ask(machines=[mill, otter_mill])

    assert [day for day, _kind in rows_of(mill)] == [11, 12, 13]
    assert [day for day, _kind in rows_of(otter_mill)] == [11, 12, 13, 14, 15]


def test_fruit_in_crates_is_weighed_by_the_schemes_crate(ask):
    booking = ask(fruit_amount=Decimal("20"), fruit_unit="crate")

    assert booking.fruit_kg == 320  # 20 crates of 16 kg


def test_fruit_in_pounds_is_weighed_by_the_international_pound(ask):
    booking = ask(fruit_amount=Decimal("1000"), fruit_unit="lb")

    assert booking.fruit_kg == Decimal("453.6")  # 0.45359237 kg, exact by definition


def test_the_coordinator_is_told_that_a_village_asked_but_not_the_one_who_asked(ask, perpetua, sunniva):
    booking = ask()

    message = Message.objects.get()
    assert message.to_name == perpetua.name
    assert message.key == f"booking-asked:{booking.pk}:1:{perpetua.pk}"
    assert "Heron mill" in message.body
    assert "Sat 11 Sep" in message.body
    assert f"/bookings/{booking.pk}/" in message.body


def test_a_coordinator_may_ask_for_a_village_and_its_borrower_is_told(ask, perpetua, sunniva):
    ask(by=perpetua)

    assert told("asked") == {sunniva.name}


def test_asking_is_written_in_the_history_of_booking_village_machine_and_kit(ask, sorrelhythe, mill, heron):
    booking = ask()

    for thing in (booking, sorrelhythe, mill, heron):
        line = Entry.objects.about(thing).get()
        assert line.deed == "booking_asked"
        assert line.text == "Sunniva Okparadine asked for Heron mill for Sorrelhythe, Sat 11 Sep to Mon 13 Sep."


def test_a_form_sent_twice_is_one_booking(ask):
    key = uuid.uuid4()

    first = ask(form_key=key)
    second = ask(form_key=key)

    assert second == first
    assert Booking.objects.count() == 1
    assert Message.objects.filter(key__startswith="booking-asked").count() <= 1


def test_the_same_form_with_other_days_is_another_booking(ask):
    key = uuid.uuid4()

    first = ask(form_key=key)
    second = ask(form_key=key, period=september(18, 20))

    assert second != first


def test_the_loser_hears_who_has_it_and_the_three_nearest_free_spells(ask, fennerlow, leilani, mill):
    ask()

    with pytest.raises(MachineTaken) as refusal:
        ask(village=fennerlow, borrower=leilani, by=leilani, period=september(12, 14))

    holding = refusal.value.taken[0]
    assert holding.booking.village.name == "Sorrelhythe"
    assert holding.machines == (mill,)
    assert str(holding) == "Heron mill: with Sorrelhythe from Sat 11 Sep to Mon 13 Sep."
    assert refusal.value.nearest == [september(14, 16), september(15, 17), september(8, 10)]
    assert "Sorrelhythe" in str(refusal.value)
    assert "Tue 14 Sep to Thu 16 Sep" in str(refusal.value)
    assert Booking.objects.count() == 1


def test_cleaning_and_drying_is_told_as_such(ask, fennerlow, leilani):
    ask()

    with pytest.raises(MachineTaken) as refusal:
        ask(village=fennerlow, borrower=leilani, by=leilani, period=september(13, 15))

    assert str(refusal.value.taken[0]) == "Heron mill: cleaning and drying after Sorrelhythe, until Mon 13 Sep."


def test_care_days_must_be_free_as_well(ask):
    ask(period=september(13, 15))

    with pytest.raises(MachineTaken):
        ask(period=september(11, 13))  # its care day is the 13th


def test_a_kit_may_go_out_on_the_day_its_care_ends(ask):
    ask(period=september(11, 13))

    ask(period=september(14, 16))


def test_without_care_a_kit_back_in_the_morning_goes_out_the_same_day(ask, heron):
    heron.care_days = 0
    heron.save()
    ask(period=september(11, 13))

    ask(period=september(13, 15))


def test_nearest_days_are_free_for_every_machine_by_its_own_care(ask, mill, otter, otter_mill):
    otter.care_days = 3
    otter.save()
    ask(machines=[mill], period=september(14, 16))
    ask(machines=[otter_mill], period=september(11, 13))

    with pytest.raises(MachineTaken) as refusal:
        ask(machines=[mill, otter_mill], period=september(11, 13))

    for spell in refusal.value.nearest:
        booking = ask(machines=[mill, otter_mill], period=spell)
        bookings.call_off(booking=booking, reason="", by=booking.borrower, at=booking.asked_at, revision=1)


@pytest.mark.parametrize(
    ("period", "refusal"),
    [
        (Period(start=date(2027, 8, 30), end=date(2027, 9, 2)), DayIsPast),
        (Period(start=date(2027, 12, 1), end=date(2027, 12, 3)), OutsideSeason),
        (Period(start=date(2027, 11, 29), end=date(2027, 12, 2)), OutsideSeason),
        (Period(start=date(9999, 12, 30), end=date(9999, 12, 31)), OutsideSeason),
        (Period(start=date(2027, 9, 4), end=date(2027, 9, 26)), TooLong),
    ],
)
def test_days_that_cannot_be_booked_are_refused_with_the_field_to_mend(ask, period, refusal):
    with pytest.raises(refusal) as refused:
        ask(period=period)

    assert refused.value.field == "days"
    assert not BookedDay.objects.exists()


def test_three_weeks_and_the_last_day_of_the_season_can_be_booked(ask):
    ask(period=Period(start=date(2027, 11, 10), end=date(2027, 12, 1)))


def test_without_a_season_nothing_can_be_booked(ask):
    Season.objects.all().delete()

    with pytest.raises(OutsideSeason, match="no season yet"):
        ask()


@pytest.mark.parametrize("amount", ["0", "-5", "0.04", "1e9", "1e300", "NaN", "-Infinity", "20000.1"])
def test_fruit_that_no_village_brings_is_refused(ask, amount):
    with pytest.raises(FruitNotSensible):
        ask(fruit_amount=Decimal(amount), fruit_unit="kg")


def test_an_unknown_measure_is_refused(ask):
    with pytest.raises(FruitNotSensible):
        ask(fruit_unit="barrel")


def test_fruit_of_trees_and_bushels_is_weighed_by_what_the_scheme_says(ask, scheme):
    with pytest.raises(WeightNotSaid, match="has not said what a bushel weighs"):
        ask(fruit_amount=Decimal(4), fruit_unit="bushel")

    # The Orchard Project, community apple pressing guide: a small tree bears 50 kg, a large one over 250.
    assert weigh(amount=Decimal(4), unit="small_tree", scheme=scheme) == (4, 200)
    assert weigh(amount=Decimal(2), unit="large_tree", scheme=scheme) == (2, 500)
    scheme.bushel_kg = Decimal("21.8")
    assert weigh(amount=Decimal(4), unit="bushel", scheme=scheme) == (4, Decimal("87.2"))


def test_a_machine_set_aside_cannot_be_booked(ask, mill, set_aside):
    fault = set_aside(mill)

    with pytest.raises(KitUnfit, match="Heron mill") as refusal:
        ask()

    assert refusal.value.faults == [fault]


def test_a_retired_machine_cannot_be_booked(ask, mill, today):
    mill.retired_on = today
    mill.save()

    with pytest.raises(MachineRetired):
        ask()


def test_a_machine_of_a_retired_kit_cannot_be_booked(ask, heron, today):
    heron.retired_on = today
    heron.save()

    with pytest.raises(MachineRetired):
        ask()


def test_nothing_is_no_booking(ask):
    with pytest.raises(NoMachine):
        ask(machines=[])


def test_nobody_asks_for_a_village_that_they_do_not_sign_for(ask, leilani, sunniva):
    with pytest.raises(NotTheirs):
        ask(by=leilani)
    with pytest.raises(DoesNotSign):
        ask(borrower=leilani)


def test_a_village_that_has_left_cannot_ask(ask, sorrelhythe, today):
    sorrelhythe.left_on = today
    sorrelhythe.save()

    with pytest.raises(VillageHasLeft):
        ask()


# Agreeing, declining, calling off


def test_agreeing_promises_the_machines_and_tells_the_borrower(ask, perpetua, sunniva, now, today):
    booking = ask()

    booking = bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=1)

    assert booking.stage == Stage.AGREED
    assert (booking.revision, booking.sequence) == (2, 1)
    assert told("agreed") == {sunniva.name}
    assert "pickup check" in Message.objects.get(key__startswith="booking-agreed").body


def test_only_a_coordinator_agrees_declines_and_closes(ask, sunniva, now, today):
    booking = ask()

    with pytest.raises(NotTheirs):
        bookings.agree(booking=booking, by=sunniva, at=now, today=today, revision=1)
    with pytest.raises(NotTheirs):
        bookings.decline(booking=booking, reason="no", by=sunniva, at=now, revision=1)
    with pytest.raises(NotTheirs):
        bookings.close(booking=booking, by=sunniva, at=now)


def test_a_booking_is_not_agreed_while_a_machine_is_set_aside(ask, perpetua, mill, set_aside, now, today):
    booking = ask()
    set_aside(mill)

    with pytest.raises(KitUnfit):
        bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=1)


def test_a_booking_that_is_over_is_not_agreed(ask, perpetua, now):
    booking = ask()

    with pytest.raises(DayIsPast):
        bookings.agree(booking=booking, by=perpetua, at=now, today=booking.back_on, revision=1)


def test_declining_needs_a_reason_tells_it_and_frees_the_days(ask, perpetua, sunniva, mill, now):
    booking = ask()

    with pytest.raises(ReasonMissing):
        bookings.decline(booking=booking, reason="  ", by=perpetua, at=now, revision=1)
    booking = bookings.decline(booking=booking, reason="The lane is closed.", by=perpetua, at=now, revision=1)

    assert booking.stage == Stage.DECLINED
    assert booking.ended_at == now
    assert rows_of(mill) == []
    assert "The lane is closed." in Message.objects.get(to_name=sunniva.name).body


def test_when_a_borrower_calls_off_the_coordinators_are_told(agreed, perpetua, sunniva, mill, now):
    booking = agreed()

    booking = bookings.call_off(booking=booking, reason="Hail.", by=sunniva, at=now, revision=booking.revision)

    assert booking.stage == Stage.CALLED_OFF
    assert booking.sequence == 2
    assert rows_of(mill) == []
    assert told("called-off") == {perpetua.name, sunniva.name}  # the borrower for their calendar's sake


def test_when_a_coordinator_calls_off_the_borrower_is_told(agreed, perpetua, sunniva, now):
    booking = agreed()

    bookings.call_off(booking=booking, reason="", by=perpetua, at=now, revision=booking.revision)

    assert told("called-off") == {sunniva.name}


def test_a_kit_that_is_out_cannot_be_called_off(agreed, sunniva, now):
    booking = agreed()
    booking = bookings.mark_out(booking=booking, by=sunniva, at=now + timedelta(days=10))

    with pytest.raises(NotAtThisStage):
        bookings.call_off(booking=booking, reason="", by=sunniva, at=now, revision=booking.revision)


def test_the_second_of_two_tabs_is_told_what_the_first_did(ask, perpetua, sunniva, now, today):
    booking = ask()
    bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=1)

    with pytest.raises(ChangedMeanwhile) as refusal:
        bookings.call_off(booking=booking, reason="", by=sunniva, at=now, revision=1)

    assert refusal.value.changes == [
        "Perpetua Quillstone agreed the booking of Sorrelhythe: Heron mill, Sat 11 Sep to Mon 13 Sep."
    ]
    assert refusal.value.revision == 2


def test_a_revision_from_nowhere_is_refused_without_a_fuss(ask, sunniva, now):
    booking = ask()

    with pytest.raises(ChangedMeanwhile) as refusal:
        bookings.call_off(booking=booking, reason="", by=sunniva, at=now, revision=10**12)

    assert refusal.value.changes == []


# Changing


def test_moving_frees_the_old_days_and_holds_the_new(ask, change, mill):
    booking = change(ask(), period=september(18, 20))

    assert [day for day, _kind in rows_of(mill)] == [18, 19, 20]
    assert (booking.revision, booking.sequence) == (2, 1)


def test_moving_by_one_day_does_not_collide_with_itself(ask, change, mill):
    change(ask(), period=september(12, 14))

    assert [day for day, _kind in rows_of(mill)] == [12, 13, 14]


def test_when_the_new_days_are_taken_the_old_ones_are_still_held(ask, change, fennerlow, leilani, mill):
    booking = ask()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(18, 20))

    with pytest.raises(MachineTaken) as refusal:
        change(booking, period=september(18, 20))

    booking.refresh_from_db()
    assert booking.period == september(11, 13)
    assert booking.days.count() == 3
    assert september(15, 17) in refusal.value.nearest or september(14, 16) in refusal.value.nearest


def test_other_machines_replace_the_ones_asked_for(ask, change, mill, press):
    booking = change(ask(), machines=[press])

    assert list(booking.machines.all()) == [press]
    assert rows_of(mill) == []
    assert [day for day, _kind in rows_of(press)] == [11, 12, 13]


def test_other_fruit_moves_no_day_and_leaves_the_calendar_alone(agreed, change, sunniva):
    booking = agreed()
    days = set(booking.days.values_list("pk", flat=True))

    changed = change(booking, fruit_amount=Decimal("12.5"), fruit_unit="sack", by=sunniva)

    assert changed.fruit_kg == Decimal("312.5")
    assert changed.stage == Stage.AGREED
    assert changed.sequence == booking.sequence
    assert set(changed.days.values_list("pk", flat=True)) == days


def test_an_agreed_booking_moved_by_its_borrower_waits_for_the_coordinator_again(agreed, change, sunniva, perpetua):
    changed = change(agreed(), period=september(18, 20), by=sunniva)

    assert changed.stage == Stage.ASKED
    assert told("changed") == {perpetua.name, sunniva.name}  # the borrower for their calendar's sake


def test_an_agreed_booking_moved_by_a_coordinator_stays_agreed(agreed, change, sunniva):
    changed = change(agreed(), period=september(18, 20))

    assert changed.stage == Stage.AGREED
    assert told("changed") == {sunniva.name}


def test_a_change_that_changes_nothing_says_nothing(ask, change):
    booking = change(ask())

    assert booking.revision == 1
    assert told("changed") == set()


def test_the_history_says_how_the_booking_stands_now_even_with_a_percent_sign(ask, change):
    booking = change(ask(), period=september(18, 20), note="100% ripe %(who)s")

    line = Entry.objects.about(booking).first()
    assert line.text == (
        "Perpetua Quillstone changed the booking of Sorrelhythe."
        " Days now: Sat 18 Sep to Mon 20 Sep. Note now: 100% ripe %(who)s"
    )


def test_the_note_can_be_mended_after_the_first_day_and_with_a_machine_set_aside(ask, change, mill, set_aside):
    booking = ask()
    set_aside(mill)

    changed = change(booking, note="Key under the pot.", today=date(2027, 9, 12))

    assert changed.note == "Key under the pot."


# Handing over and taking back


def test_a_kit_leaves_and_comes_back_as_promised(agreed, sunniva, mill, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    assert booking.stage == Stage.OUT

    booking = bookings.mark_back(booking=booking, by=sunniva, at=now + timedelta(days=12), today=date(2027, 9, 13))

    assert booking.stage == Stage.BACK
    assert rows_of(mill) == [(11, DayKind.BOOKED), (12, DayKind.BOOKED), (13, DayKind.CARE)]


def test_a_kit_does_not_leave_before_it_is_agreed(ask, sunniva, now):
    with pytest.raises(NotAtThisStage):
        bookings.mark_out(booking=ask(), by=sunniva, at=now)


def test_a_kit_set_aside_does_not_leave(agreed, sunniva, mill, set_aside, now):
    booking = agreed()
    set_aside(mill)

    with pytest.raises(KitUnfit):
        bookings.mark_out(booking=booking, by=sunniva, at=now)


def test_a_kit_does_not_leave_on_a_booking_that_is_over(agreed, sunniva, now):
    with pytest.raises(DayIsPast):
        bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=12))


def test_a_kit_not_back_yet_cannot_leave_again(agreed, fennerlow, leilani, sunniva, now):
    first = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    second = agreed(village=fennerlow, borrower=leilani, by=leilani, period=september(14, 16))

    with pytest.raises(MachineStillOut, match="Sorrelhythe") as refusal:
        bookings.mark_out(booking=second, by=leilani, at=now + timedelta(days=13))

    assert refusal.value.booking == first


def test_a_kit_that_leaves_a_day_early_holds_that_day_too(agreed, sunniva, mill, now):
    bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=9))

    assert [day for day, _kind in rows_of(mill)] == [10, 11, 12, 13]


def test_a_kit_cannot_leave_early_on_a_day_promised_to_somebody_else(agreed, ask, fennerlow, leilani, sunniva, now):
    booking = agreed()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(8, 10))

    with pytest.raises(MachineTaken, match="Fennerlow"):
        bookings.mark_out(booking=booking, by=sunniva, at=now + timedelta(days=8))


def test_an_early_return_frees_the_days_left(agreed, sunniva, mill, now):
    booking = agreed(period=september(11, 18))
    booking = bookings.mark_out(booking=booking, by=sunniva, at=now + timedelta(days=10))

    bookings.mark_back(booking=booking, by=sunniva, at=now, today=date(2027, 9, 13))

    assert rows_of(mill) == [(11, DayKind.BOOKED), (12, DayKind.BOOKED), (13, DayKind.CARE)]


def test_a_return_on_the_day_it_went_out_still_counts_that_day(agreed, sunniva, mill, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))

    bookings.mark_back(booking=booking, by=sunniva, at=now, today=date(2027, 9, 11))

    assert rows_of(mill) == [(11, DayKind.BOOKED), (12, DayKind.CARE)]


def test_a_late_return_leaves_the_next_villages_days_alone(agreed, ask, fennerlow, leilani, sunniva, mill, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    following = ask(village=fennerlow, borrower=leilani, by=leilani, period=september(15, 17))

    bookings.mark_back(booking=booking, by=sunniva, at=now, today=date(2027, 9, 15))

    assert [day for day, _kind in rows_of(mill)] == [11, 12, 13, 14, 15, 16, 17]
    assert following.days.count() == 3
    assert dict(rows_of(mill))[14] == DayKind.BOOKED


def test_a_booking_is_closed_once_the_kit_is_back(agreed, perpetua, sunniva, now):
    booking = bookings.mark_out(booking=agreed(), by=sunniva, at=now + timedelta(days=10))
    with pytest.raises(NotAtThisStage):
        bookings.close(booking=booking, by=perpetua, at=now)
    booking = bookings.mark_back(booking=booking, by=sunniva, at=now, today=date(2027, 9, 13))

    assert bookings.close(booking=booking, by=perpetua, at=now).stage == Stage.CLOSED


def test_every_refusal_is_a_booking_refused(ask):
    with pytest.raises(BookingRefused):
        ask(machines=[])


def test_a_booking_whose_mill_was_set_aside_can_move_to_later_days(agreed, change, mill, press, set_aside):
    booking = agreed()
    set_aside(mill)

    moved = change(booking, period=september(25, 27))

    assert rows_of(mill) == [(25, DayKind.BOOKED), (26, DayKind.BOOKED), (27, DayKind.CARE)]
    with pytest.raises(KitUnfit):
        change(moved, machines=[mill, press])


def test_days_after_a_test_falls_due_are_booked_and_agreed_and_the_booking_is_at_risk(
    ask, perpetua, plan_care, record_care, now, today
):
    plan = plan_care(due_on=date(2027, 9, 10))
    booking = ask()
    bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)

    at_risk = list(Booking.objects.at_risk(today))
    record_care(plan)

    assert at_risk == [booking]
    assert not Booking.objects.at_risk(today).exists()


def test_a_test_due_on_the_day_out_itself_puts_nothing_at_risk(ask, plan_care, today):
    plan_care(due_on=date(2027, 9, 11))
    ask()

    assert not Booking.objects.at_risk(today).exists()


def test_a_service_that_is_overdue_puts_nothing_at_risk(ask, plan_care, today):
    plan_care(kind="service", due_on=today - timedelta(days=9))
    ask()

    assert not Booking.objects.at_risk(today).exists()


def test_a_kit_with_a_test_overdue_does_not_leave_until_it_is_passed(agreed, sunniva, plan_care, record_care, now):
    plan, booking = plan_care(due_on=date(2027, 9, 10)), agreed()
    leaves_at = now + timedelta(days=10)

    with pytest.raises(KitUnfit, match="“Electrical test” was due on Fri 10 Sep 2027") as refusal:
        bookings.mark_out(booking=booking, by=sunniva, at=leaves_at)
    record_care(plan)

    assert refusal.value.overdue == [plan]
    assert bookings.mark_out(booking=booking, by=sunniva, at=leaves_at).stage == Stage.OUT
