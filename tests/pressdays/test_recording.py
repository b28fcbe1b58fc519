"""What a day gave: who may say it, what is believed, and what is kept of it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome, SignedRole
from kitshare.logbook.models import Entry
from kitshare.pressdays import recording
from kitshare.pressdays.record_models import Given, PressDayRecord
from kitshare.pressdays.record_refusals import (
    AmountNotBelieved,
    BottlesHalfTold,
    DayChangedMeanwhile,
    DayNotOfBooking,
    DayRecordedAlready,
    HardlyAnyJuice,
    MachineNotTaken,
    MoreBrokenThanBrought,
    MoreThanItsFruit,
    NothingToRecord,
    NotTheirsToRecord,
)
from kitshare.upkeep.use import Use, use_since
from kitshare.upkeep.use_models import MachineUse

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def correct(mill, press, sunniva, now, today):
    def correct(record, **changes):
        facts = {"day": record.day, "machines": [mill, press], "by": sunniva, "at": now, "today": today}
        given = Given(**({"pressed_kg": Decimal(300), "litres_fresh": Decimal(165)} | changes.pop("given", {})))
        return recording.correct_day(record=record, given=given, **(facts | changes))

    return correct


def lines(record) -> list[str]:
    return [entry.text for entry in Entry.objects.about(record)]


def test_a_recorded_day_keeps_its_figures_and_says_them_in_the_logbook(record_day, out_booking, sunniva):
    record = record_day(hours=Decimal("5"), helpers=6, batches=4, waste_kg=Decimal(20), fruit=" Mixed ", note="Hot.")

    kept = PressDayRecord.objects.get()
    assert (kept.litres, kept.helper_hours, kept.fruit, kept.recorded_by) == (165, 30, "Mixed", sunniva)
    assert kept.litres_per_kg == Decimal("0.55")
    said = "300 kg pressed, 165 L (65 drunk fresh, 100 heated), 20 kg sorted out"
    assert lines(record) == [
        f"Recorded what Wed 1 Sep gave: {said}, hours of work 5, helpers 6, batches heated 4, Mixed."
    ]
    assert Entry.objects.about(out_booking).first().text == lines(record)[0]


def test_a_double_tap_is_one_record_and_one_line(record_day):
    record = record_day()

    assert record_day() == record
    assert len(lines(record)) == 1


def test_other_figures_for_a_day_that_is_recorded_are_a_correction_and_not_a_second_record(record_day):
    record_day()

    with pytest.raises(DayRecordedAlready, match="Wed 1 Sep is recorded already, by Sunniva Okparadine"):
        record_day(pressed_kg=Decimal(310))


def test_a_booking_of_several_days_may_have_several(record_day, out_booking, today):
    record_day()
    record_day(day=today + DAY, today=today + DAY)

    assert out_booking.day_records.count() == 2


def test_a_day_on_which_nothing_was_pressed_is_a_record_and_an_outing_without_fruit(
    record_day, out_booking, perpetua, mill, now, today
):
    record = record_day(pressed_kg=Decimal(0), litres_fresh=Decimal(0), litres_heated=Decimal(0))

    assert (record.litres_per_kg, record.helper_hours) == (None, None)
    bookings.mark_back(booking=out_booking, by=perpetua, at=now, today=today)
    assert use_since([mill])[mill.pk] == Use(kg=Decimal(0), outings=1)


def test_a_correction_keeps_the_earlier_figures_in_the_logbook(record_day, correct, mill, perpetua, today):
    record = record_day()

    corrected = correct(
        record,
        given={"pressed_kg": Decimal("320.5"), "litres_heated": Decimal(10), "helpers": 4},
        machines=[mill],
        by=perpetua,
    )

    assert (corrected.revision, corrected.recorded_by) == (2, perpetua)
    assert lines(record)[0] == (
        "Corrected what Wed 1 Sep gave: fruit pressed: 300 → 320.5, drunk fresh: 65 → 165, heated: 100 → 10,"
        " helpers: – → 4, machines used: Heron mill and Heron press → Heron mill."
    )


def test_correcting_nothing_changes_nothing(record_day, correct):
    record = record_day(litres_fresh=Decimal(165), litres_heated=Decimal(0))

    assert correct(record, seen_revision=0).revision == 1
    assert len(lines(record)) == 1


def test_of_two_tabs_the_second_hears_what_the_first_saved(record_day, correct):
    record = record_day()
    correct(record, given={"pressed_kg": Decimal(310)})

    with pytest.raises(DayChangedMeanwhile, match="Saved now: 310 kg pressed, 165 L") as refused:
        correct(record, given={"pressed_kg": Decimal(320)}, seen_revision=1)
    assert (
        correct(record, given={"pressed_kg": Decimal(320)}, seen_revision=refused.value.record.revision).revision == 3
    )


def test_a_day_may_be_moved_to_another_that_is_not_recorded(record_day, correct, today):
    first = record_day()
    record_day(day=today + DAY, today=today + DAY)

    with pytest.raises(DayRecordedAlready):
        correct(first, day=today + DAY, today=today + DAY)
    moved = correct(first, day=today + 2 * DAY, today=today + 2 * DAY)

    assert moved.day == date(2027, 9, 3)
    assert "day: Wed 1 Sep → Fri 3 Sep" in lines(first)[0]


def test_a_record_taken_out_leaves_its_figures_in_the_logbook(record_day, sunniva, now):
    record = record_day()
    gone = PressDayRecord(pk=record.pk, booking=record.booking)

    recording.take_out_day(record=record, by=sunniva, at=now)
    recording.take_out_day(record=gone, by=sunniva, at=now)

    assert not PressDayRecord.objects.exists()
    assert lines(gone) == [
        "Took out the record of Wed 1 Sep, which was: 300 kg pressed, 165 L (65 drunk fresh, 100 heated).",
        "Recorded what Wed 1 Sep gave: 300 kg pressed, 165 L (65 drunk fresh, 100 heated).",
    ]
    assert not MachineUse.objects.exists()


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"pressed_kg": Decimal(172), "litres_heated": Decimal(100)}, MoreThanItsFruit, "litres_heated"),
        ({"pressed_kg": Decimal(0)}, MoreThanItsFruit, "litres_heated"),
        ({"litres_fresh": Decimal(8), "litres_heated": Decimal(0)}, HardlyAnyJuice, "pressed_kg"),
        ({"litres_fresh": Decimal(0), "litres_heated": Decimal(0)}, HardlyAnyJuice, "pressed_kg"),
        ({"pressed_kg": Decimal(-1)}, AmountNotBelieved, "pressed_kg"),
        ({"pressed_kg": Decimal(500_000)}, AmountNotBelieved, "pressed_kg"),
        ({"pressed_kg": Decimal("NaN")}, AmountNotBelieved, "pressed_kg"),
        ({"pressed_kg": Decimal("1e50")}, AmountNotBelieved, "pressed_kg"),
        ({"waste_kg": Decimal(-1)}, AmountNotBelieved, "waste_kg"),
        ({"litres_frozen": Decimal(-1)}, AmountNotBelieved, "litres_frozen"),
        ({"hours": Decimal(0)}, AmountNotBelieved, "hours"),
        ({"hours": Decimal(25)}, AmountNotBelieved, "hours"),
        ({"helpers": 0}, AmountNotBelieved, "helpers"),
        ({"helpers": 201}, AmountNotBelieved, "helpers"),
        ({"batches": -1}, AmountNotBelieved, "batches"),
        ({"batches": 201}, AmountNotBelieved, "batches"),
        ({"reused_brought": -1, "reused_broken": 0}, AmountNotBelieved, "reused_brought"),
        ({"reused_brought": 20_001, "reused_broken": 0}, AmountNotBelieved, "reused_brought"),
        ({"reused_brought": 9, "reused_broken": -1}, AmountNotBelieved, "reused_broken"),
        ({"reused_brought": 9, "reused_broken": 20_001}, AmountNotBelieved, "reused_broken"),
        ({"reused_brought": 9, "reused_broken": 10}, MoreBrokenThanBrought, "reused_broken"),
        ({"reused_brought": 0}, BottlesHalfTold, "reused_broken"),
        ({"reused_broken": 0}, BottlesHalfTold, "reused_brought"),
    ],
)
def test_what_no_day_gives_is_refused_by_its_field(record_day, changes, refusal, field):
    with pytest.raises(refusal) as refused:
        record_day(**changes)

    assert refused.value.field == field
    assert str(refused.value)
    assert not PressDayRecord.objects.exists()


@pytest.mark.parametrize(("brought", "broken"), [(0, 0), (9, 9), (20_000, 20_000), (None, None)])
def test_bottles_that_were_counted_are_kept(record_day, brought, broken):
    record = record_day(reused_brought=brought, reused_broken=broken)

    assert (record.reused_brought, record.reused_broken) == (brought, broken)
    said = f"re-used bottles brought {brought}, of these broken, chipped or not clean {broken}"
    assert (said in lines(record)[0]) is (brought is not None)


@pytest.mark.parametrize(("brought", "broken"), [(9, 10), (None, 1), (1, None), (20_001, 0)])
def test_no_record_has_bottles_that_cannot_be(record_day, brought, broken):
    record = record_day()

    with pytest.raises(IntegrityError, match="broken_bottles_are_of_those_brought"), transaction.atomic():
        PressDayRecord.objects.filter(pk=record.pk).update(reused_brought=brought, reused_broken=broken)


def test_the_most_juice_that_fruit_can_give_is_taken(record_day):
    """A litre of juice weighs 1.0465 kg: 172.673 kg of fruit weighs as much as 165 litres of juice."""
    assert record_day(pressed_kg=Decimal("172.673")).litres == 165
    with pytest.raises(MoreThanItsFruit):
        record_day(pressed_kg=Decimal("172.672"))


@pytest.mark.parametrize("days", [-1, 1])
def test_a_day_on_which_the_kit_was_not_there_yet_is_refused(record_day, days, today):
    with pytest.raises(DayNotOfBooking, match="The kit was with the village on Wed 1 Sep"):
        record_day(day=today + days * DAY)


def test_after_the_return_the_days_until_it_was_due_back_count(record_day, out_booking, perpetua, now, today):
    later = today + 5 * DAY
    bookings.mark_back(booking=out_booking, by=perpetua, at=now, today=today + DAY)

    with pytest.raises(DayNotOfBooking, match="from Wed 1 Sep to Sat 4 Sep"):
        record_day(day=later, today=later)
    assert record_day(day=date(2027, 9, 4), today=later).day == date(2027, 9, 4)


def test_where_it_came_back_late_the_days_until_then_count(record_day, out_booking, perpetua, now, today):
    late = today + 5 * DAY
    HandoverCheck.objects.create(
        booking=out_booking,
        kind=CheckKind.RETURN,
        outcome=Outcome.HANDED_OVER,
        by=perpetua,
        signed_name="Sunniva Okparadine",
        signed_role=SignedRole.BORROWER,
        done_at=now + 5 * DAY,
        digest="0" * 64,
    )
    bookings.mark_back(booking=out_booking, by=perpetua, at=now + 5 * DAY, today=late)

    with pytest.raises(DayNotOfBooking, match="from Wed 1 Sep to Mon 6 Sep"):
        record_day(day=late + DAY, today=late + DAY)
    assert record_day(day=late, today=late + DAY).day == late


def test_a_machine_that_stayed_at_home_did_nothing(record_day, otter_mill):
    with pytest.raises(MachineNotTaken, match="Otter mill did not go out with this booking"):
        record_day(machines=[otter_mill])


def test_a_booking_that_never_went_out_has_no_press_day(booking, mill, sunniva, now, today):
    with pytest.raises(NothingToRecord, match="This booking is asked"):
        recording.record_day(
            booking=booking, day=today, given=Given(pressed_kg=Decimal(0)), machines=[], by=sunniva, at=now, today=today
        )


def test_only_those_who_sign_for_the_village_and_the_coordinator_may_say_it(record_day, leilani, teodor, perpetua):
    for stranger in (leilani, teodor):
        with pytest.raises(NotTheirsToRecord):
            record_day(by=stranger)

    assert record_day(by=perpetua).recorded_by == perpetua


def test_machines_that_worked_have_their_kilograms_and_batches_noted(record_day, correct, mill, press, today):
    first = record_day(hours=Decimal("4.5"), batches=3)
    record_day(day=today + DAY, today=today + DAY)

    assert use_since([mill]) == {mill.pk: Use(kg=Decimal(600), hours=Decimal("4.5"), batches=0, outings=1)}
    correct(first, given={"pressed_kg": Decimal(320)}, machines=[press])
    assert use_since([mill, press], since=today - DAY) == {
        mill.pk: Use(kg=Decimal(300), hours=Decimal(0), batches=0, outings=1),
        press.pk: Use(kg=Decimal(620), hours=Decimal(0), batches=0, outings=1),
    }
    assert use_since([press], since=today)[press.pk].kg == 300


def test_until_a_day_is_recorded_the_machines_are_taken_to_have_done_what_was_expected(
    record_day, out_booking, perpetua, mill, now, today
):
    """20 crates of 16 kg were asked."""
    bookings.mark_back(booking=out_booking, by=perpetua, at=now, today=today + DAY)

    assert use_since([mill])[mill.pk] == Use(kg=Decimal(320), outings=1)
    record = record_day(today=today + DAY)
    assert use_since([mill])[mill.pk] == Use(kg=Decimal(300), outings=1)
    recording.take_out_day(record=record, by=perpetua, at=now)
    assert use_since([mill])[mill.pk] == Use(kg=Decimal(320), outings=1)


def test_what_was_recorded_before_the_return_is_not_made_an_estimate_by_it(
    record_day, out_booking, perpetua, mill, now, today
):
    record_day()
    bookings.mark_back(booking=out_booking, by=perpetua, at=now, today=today + DAY)

    assert use_since([mill])[mill.pk].kg == 300


@pytest.mark.parametrize(
    ("changes", "promise"),
    [
        ({"pressed_kg": Decimal(170)}, "juice_weighs_no_more_than_its_fruit"),
        ({"waste_kg": Decimal(-1)}, "recorded_fruit_is_sensible"),
        ({"litres_frozen": Decimal(-1)}, "recorded_juice_is_none_or_some"),
        ({"hours": Decimal(25)}, "recorded_hours_fit_a_day"),
    ],
)
def test_the_database_refuses_what_the_action_refuses(record_day, changes, promise):
    record = record_day()

    with pytest.raises(IntegrityError, match=promise), transaction.atomic():
        PressDayRecord.objects.filter(pk=record.pk).update(**changes)


def test_a_day_of_a_booking_is_recorded_once(record_day):
    """The promise press_day_recorded_once."""
    record = record_day()

    record.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        record.save(force_insert=True)


def test_given_is_compared_as_it_is_kept(record_day):
    record = record_day(pressed_kg=Decimal("300.0004"))

    assert record.pressed_kg == Decimal("300.000")
    assert record_day(pressed_kg=Decimal("300.0004")) == record
