"""One record for each batch, with its verdict, its code and its readings; never changed, only replaced."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from kitshare.bookings import actions as bookings
from kitshare.kits.models import Machine, Part
from kitshare.logbook.models import Entry
from kitshare.pressdays import heat_judging, heat_records
from kitshare.pressdays import heat_keeping as keeping
from kitshare.pressdays import heat_refusals as refusals
from kitshare.pressdays.heat_models import HeatReadings, HeatRecord, Recall, RecalledBatch
from kitshare.rules.batch_codes import read_code
from kitshare.rules.heat import HeatLog
from kitshare.rules.heat_verdict import Reason, ReasonCode, judge
from kitshare.rules.probes import Correction, ProbeRemark
from kitshare.rules.readings import read_log
from tests.heated import heat_log


def test_a_batch_that_was_held_has_its_verdict_its_code_and_its_day(record_heat, heated, check_probe, sunniva):
    check_probe(ice_reading_c=Decimal(0), boiling_reading_c=Decimal("100.0"))
    record = record_heat()

    assert record.is_held
    assert read_code(record.shown_code) == record.code
    assert record.best_before == date(2029, 3, 1)  # eighteen months after 1 September 2027
    told = keeping.verdict_from_plain(HeatRecord.objects.get().told)
    # 75 of 77 degrees is reached 55/57 of the way up, that is after 19.3 of 20 minutes, and left 2/3 of a minute late.
    assert told.reached_at == pytest.approx(20 * 55 / 57, abs=0.02)
    assert told.longest.minutes == pytest.approx(25 + 40 / 57 + 2 / 3, abs=0.05)
    assert told.reasons == (Reason(code=ReasonCode.PH_NOT_MEASURED, wanted=4.0),)
    line = Entry.objects.about(heated)[0]
    assert line.text == (
        f"Recorded the heat of batch 1, {record.shown_code} (48 × 0.75 L glass bottle): held as recommended."
    )


def test_the_readings_come_back_as_they_were_sent_whatever_was_corrected(record_heat, check_probe):
    check_probe()
    record = record_heat(heat_log(top=74.0))

    assert record.is_held  # 74 is shown, 77 is true
    assert (record.gain, record.offset_c) == pytest.approx((1.0, 3.0), abs=0.001)
    kept = keeping.unpack(HeatReadings.objects.get(record=record).packed)
    assert kept == read_log(heat_log(top=74.0)).log
    assert max(celsius for _minute, celsius in record.curve["points"]) == pytest.approx(77, abs=0.05)


def test_a_batch_that_is_not_shown_to_be_held_has_no_day_to_keep_to(record_heat):
    record = record_heat(heat_log(hold=10))

    assert not record.is_held
    assert record.best_before is None
    told = keeping.verdict_from_plain(record.told)
    assert {reason.code for reason in told.reasons} == {
        ReasonCode.HOLD_TOO_SHORT,
        ReasonCode.PH_NOT_MEASURED,
        ReasonCode.PROBE_NEVER_CHECKED,
    }


def test_only_a_check_up_to_the_day_of_filling_counts_and_its_age_with_it(record_heat, check_probe, today):
    check_probe(checked_on=today - timedelta(days=400))
    record = record_heat()

    codes = {reason.code for reason in keeping.verdict_from_plain(record.told).reasons}
    assert {ReasonCode.PROBE_CHECK_OLD, ReasonCode.PROBE_OFF} <= codes
    assert record.probe_check is not None


def test_another_record_takes_the_place_of_one_that_was_wrong(record_heat):
    first = record_heat(heat_log(hold=10))
    second = record_heat(replaces=first, why_replaced="The bath's column was read, not the juice's.", number=7)

    assert (second.code, second.number) == (first.code, first.number)
    assert list(HeatRecord.objects.standing()) == [second]
    assert HeatRecord.objects.get(pk=first.pk).replaced_by == second
    with pytest.raises(refusals.ReplacedAlready):
        record_heat(replaces=first, why_replaced="Once more.")


def test_who_replaces_says_why(record_heat):
    first = record_heat()

    with pytest.raises(refusals.WhyNotSaid):
        record_heat(replaces=first, why_replaced="  ")


def test_sent_twice_it_is_one_record(record_heat):
    key = uuid.uuid4()

    assert record_heat(key=key) == record_heat(key=key, number=2)
    assert HeatRecord.objects.count() == 1


def test_batches_are_numbered_and_have_codes_of_their_own(record_heat, heated):
    first = record_heat()
    second = record_heat(number=2)

    assert first.code != second.code
    with pytest.raises(refusals.BatchNumberTaken, match="The next free number is 3"):
        record_heat(number=2)


def test_a_code_that_is_taken_is_passed_over(record_heat):
    key = uuid.UUID(int=77)
    first = record_heat(key=key)
    second = record_heat(key=uuid.UUID(int=77 + 23**5), number=2)

    assert first.code != second.code


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"number": 0}, refusals.NumberNotSensible),
        ({"number": 201}, refusals.NumberNotSensible),
        ({"bottles": 0}, refusals.BottlesNotSensible),
        ({"litres": Decimal(0)}, refusals.LitresNotSensible),
        ({"litres": Decimal("NaN")}, refusals.LitresNotSensible),
        ({"container": " "}, refusals.ContainerNotSaid),
        ({"ph": Decimal(15)}, refusals.AcidityNotSensible),
        ({"filled_on": date(2027, 8, 31)}, refusals.FilledOutside),
        ({"filled_on": date(2027, 9, 2)}, refusals.FilledOutside),
    ],
)
def test_what_makes_no_sense_is_refused(record_heat, changes, refusal):
    with pytest.raises(refusal):
        record_heat(**changes)

    assert not HeatRecord.objects.exists()


def test_machine_and_probe_travelled_with_the_booking(record_heat, otter_mill):
    strange = Part.objects.create(machine=otter_mill, name="Somebody's probe")

    with pytest.raises(refusals.NotWithThisBooking):
        record_heat(pasteuriser=otter_mill)
    with pytest.raises(refusals.NotWithThisBooking):
        record_heat(probe=strange)
    assert record_heat(pasteuriser=None, probe=None).pasteuriser is None


def test_records_are_added_by_the_village_and_the_coordinator(record_heat, leilani, teodor, perpetua, fennerlow):
    for stranger in (leilani, teodor):
        with pytest.raises(refusals.NotTheirsToRecord, match="those who sign for Sorrelhythe"):
            record_heat(by=stranger)

    assert record_heat(by=perpetua).by == perpetua


def test_nothing_was_heated_with_a_booking_that_was_called_off(record_heat, heated, perpetua, now):
    bookings.call_off(booking=heated, reason="Hail.", by=perpetua, at=now, revision=heated.revision)

    with pytest.raises(refusals.NothingHeatedYet):
        record_heat()


def test_a_record_is_never_changed_nor_taken_away(record_heat):
    record = record_heat()

    with pytest.raises(TypeError):
        record.save()
    with pytest.raises(TypeError):
        record.delete()
    with pytest.raises(TypeError):
        HeatRecord.objects.update(bottles=1)


def test_villages_see_their_own_batches(record_heat, sunniva, leilani, perpetua, teodor):
    record = record_heat()

    for member, seen in ((sunniva, [record]), (leilani, []), (perpetua, [record]), (teodor, [record])):
        assert list(HeatRecord.objects.visible_to(member)) == seen


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("batch_numbered_once_a_booking", {"code": "AAAAAA"}),
        ("batch_code_used_once", {"number": 2}),
        ("heat_record_says_why_it_replaces", {"number": 2, "code": "AAAAAA", "why_replaced": "No reason to."}),
        ("only_what_was_held_keeps", {"number": 2, "code": "AAAAAA", "verdict": "not_shown"}),
        ("batch_is_of_a_sensible_size", {"number": 2, "code": "AAAAAA", "litres": Decimal(0)}),
    ],
)
def test_the_database_keeps_each_promise(record_heat, promise, changes):
    row = HeatRecord.objects.get(pk=record_heat().pk)
    row.pk, row.key, row._state.adding = None, uuid.uuid4(), True
    for name, value in changes.items():
        setattr(row, name, value)

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        row.save()
    assert promise in str(refused.value) or (connection.vendor == "sqlite" and "UNIQUE" in str(refused.value))


def test_a_batch_stands_once_in_a_recall(record_heat, perpetua, now):
    recall = Recall(reason="Too short.", what_to_do="Bring them back.", by=perpetua, at=now)
    recall.save()
    record = record_heat()
    RecalledBatch(recall=recall, record=record).save()

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        RecalledBatch(recall=recall, record=record).save()
    assert "batch_once_a_recall" in str(refused.value) or connection.vendor == "sqlite"


@tries(max_examples=30)
@given(
    st.lists(st.floats(min_value=-20, max_value=120), max_size=30),
    st.sampled_from([None, 3.2, 3.7, 4.4]),
    st.sets(st.sampled_from(ProbeRemark)),
)
def test_a_verdict_is_kept_and_read_back_whole(celsius, ph, remarks):
    heat_log = HeatLog(minutes=tuple(float(minute) for minute in range(len(celsius))), celsius=tuple(celsius))
    verdict = judge(heat_log, ph=ph, probe=Correction(offset_c=0.5, remarks=tuple(remarks)))

    assert keeping.verdict_from_plain(keeping.verdict_as_plain(verdict)) == verdict
    assert keeping.unpack(keeping.pack(heat_log)) == heat_log


def test_a_drawn_curve_keeps_its_gaps_and_its_dips():
    """A long log with one pause and one cold reading."""
    minutes = [at / 60 for at in range(20_000)]
    celsius = [76.0] * len(minutes)
    celsius[12_345] = 60.0
    minutes = [at if at < 200 else at + 30 for at in minutes]
    curve = heat_judging.curve_of(
        HeatLog(minutes=tuple(minutes), celsius=tuple(celsius)), Correction(offset_c=1.0), 5.0
    )

    assert len(curve.points) <= heat_judging.DRAWN_AT_MOST + 2
    assert min(celsius for _minute, celsius in curve.points) == 61.0
    assert curve.gaps == ((pytest.approx(199.983, abs=0.001), 230.0),)
    assert {end for gap in curve.gaps for end in gap} <= {minute for minute, _celsius in curve.points}


def test_a_probe_that_two_pasteurisers_share_travelled_with_either(record_heat, heron, pasteuriser):
    other = Machine.objects.create(kit=heron, name="Heron kettle", kind="pasteuriser", position=4)
    shared = Part.objects.create(machine=other, name="Shared probe")
    shared.also_serves.add(pasteuriser)

    assert record_heat(probe=shared).probe == shared


def test_a_code_taken_by_another_village_meanwhile_costs_nothing(record_heat, monkeypatch):
    first = record_heat()
    real = heat_records._free_code
    answers = [lambda key: first.code, real]
    monkeypatch.setattr(heat_records, "_free_code", lambda key: answers.pop(0)(key))

    second = record_heat(number=2)

    assert second.code != first.code
    assert answers == []
