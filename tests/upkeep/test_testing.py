"""Safety tests with readings: what is kept, what fails, and what is refused."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.logbook import actions as logbook
from kitshare.rules.electrics import Protection
from kitshare.rules.instruments import Bound, Figure, Kind
from kitshare.rules.leads import Lead
from kitshare.upkeep import testing
from kitshare.upkeep.care_models import CareRecord
from kitshare.upkeep.care_refusals import NotDoneYet, NothingWritten, NotTheirs
from kitshare.upkeep.fitness import stops
from kitshare.upkeep.models import Fault
from kitshare.upkeep.reading_models import SafetyReading, SafetySheet
from kitshare.upkeep.reading_words import finding_in_words, limit_in_words, reading_in_words, verdict_in_words
from kitshare.upkeep.testing import (
    Findings,
    FinerThanKept,
    HeatingNotSensible,
    NothingRead,
    NotOfThisTest,
    ReadingNotTaken,
)

pytestmark = pytest.mark.django_db

LEAD = Lead(length_m=Decimal(10), mm2=Decimal("1.5"))
SOUND = {
    Kind.VISUAL: True,
    Kind.EARTH: Figure(value=Decimal("0.19")),
    Kind.INSULATION: Figure(value=Decimal(200), bound=Bound.MORE),
    Kind.LEAKAGE: Figure(value=Decimal("3.5")),
}


@pytest.fixture
def rules(scheme):
    """Judges by the British limits, unless told otherwise."""

    def choose(country="uk"):
        scheme.electrical_rules = country
        scheme.save()

    choose()
    return choose


@pytest.fixture
def record_test(teodor, now, today):
    """Records that a sound machine passed today, unless told otherwise."""

    def record_it(plan, readings=SOUND, tested=None, **changes):
        facts = {"done_on": today, "done_by_name": "Odile Marchbanks", "passed": True, "note": "", "next_due_on": None}
        facts |= {"by": teodor, "at": now, "today": today}
        described = Findings(readings=readings, **({"lead": LEAD} | (tested or {})))
        return testing.record_test(plan=plan, tested=described, **(facts | changes))

    return record_it


def said(record):
    return [
        (reading.kind, reading_in_words(reading), limit_in_words(reading), verdict_in_words(reading))
        for reading in record.sheet.readings.order_by("pk")
    ]


def test_each_reading_is_kept_beside_its_limit_and_its_source(plan_care, record_test, rules):
    record = record_test(plan_care())

    assert record.passed
    assert said(record) == [
        ("visual", "as it should be", "", "in order"),
        ("earth", "0.19 Ω", "at most 0.233 Ω", "within"),
        ("insulation", "> 200 MΩ", "at least 1 MΩ", "within"),
        ("leakage", "3.5 mA", "at most 3.5 mA", "just at the limit"),
    ]
    assert record.sheet.readings.get(kind="earth").source.startswith("IET code of practice")
    assert (record.sheet.rules, record.sheet.lead) == ("uk", LEAD)


def test_what_a_limit_rests_on_is_kept_as_it_was_given(plan_care, record_test, rules):
    """2.55 m of 1.5 mm2 at 13.3 ohm/km (IEC 60228, quoted) are 0.033915 ohm, and 0.1 more: IET code of practice."""
    lead = Lead(length_m=Decimal("2.55"), mm2=Decimal("1.5"))

    record = record_test(plan_care(), tested={"lead": lead, "heating_kw": Decimal("2.75")}, passed=False)

    sheet = SafetySheet.objects.get(record=record)
    assert (sheet.lead, sheet.heating_kw) == (lead, Decimal("2.75"))
    assert sheet.readings.get(kind="earth").limit_value == Decimal("0.133915")


def test_the_longest_note_of_a_test_that_failed_in_every_reading_is_whole_in_its_fault(plan_care, record_test, rules):
    worst = {
        Kind.VISUAL: False,
        Kind.EARTH: Figure(value=Decimal("19999.999999"), bound=Bound.MORE),
        Kind.INSULATION: Figure(value=Decimal("0.000001"), bound=Bound.LESS),
        Kind.LEAKAGE: Figure(value=Decimal("999.999999"), bound=Bound.MORE),
    }
    plan, note = plan_care(name="x" * 80), "n" * testing.LONGEST_NOTE

    record = record_test(plan, readings=worst, note=note, done_by_name="y" * 120)

    assert record.fault.note.endswith(note)
    assert len(record.fault.note) <= Fault._meta.get_field("note").max_length


def test_the_limits_are_those_of_the_country_chosen_and_stay_when_another_is(plan_care, record_test, rules):
    rules("de")
    record = record_test(plan_care())
    rules("uk")

    assert limit_in_words(record.sheet.readings.get(kind="earth")) == "at most 0.4 Ω"
    assert {reading.source for reading in record.sheet.readings.all()} == {"", "DIN VDE 0701-0702"}


def test_with_no_country_chosen_figures_are_kept_and_compared_with_nothing(plan_care, record_test):
    record = record_test(plan_care(), readings=SOUND | {Kind.EARTH: Figure(value=Decimal(9))})

    assert record.passed
    assert said(record)[1] == ("earth", "9 Ω", "", "compared with nothing")


def test_a_reading_outside_its_limit_sets_the_machine_aside_whatever_was_said(
    plan_care, record_test, rules, mill, today
):
    plan = plan_care()

    record = record_test(plan, readings=SOUND | {Kind.EARTH: Figure(value=Decimal("0.2331"))}, note="Plug is loose.")

    plan.refresh_from_db()
    assert (record.passed, plan.due_on) == (False, today)
    assert record.fault.note == (
        "“Electrical test” failed on Wed 1 Sep 2027, tested by Odile Marchbanks."
        " Earth continuity 0.2331 Ω, at most 0.233 Ω. Plug is loose."
    )
    assert [reason.fault for reason in stops([mill], on=today) if reason.fault] == [record.fault]


@pytest.mark.parametrize(
    ("kind", "readings", "words"),
    [
        ("trip_switch", {Kind.TRIP_HALF: False}, "Holds at half the rated current (15 mA) not as it should be"),
        ("trip_switch", {Kind.TRIP_RATED: Figure(value=Decimal(300), bound=Bound.MORE)}, "> 300 ms, at most 200 ms"),
        ("trip_switch", {Kind.TRIP_FIVE: Figure(value=Decimal("40.1"))}, "40.1 ms, at most 40 ms"),
        ("guard", {Kind.GUARD: True, Kind.INTERLOCK: False}, "Interlock not as it should be"),
        ("visual", {Kind.VISUAL: False}, "Looked over not as it should be"),
    ],
)
def test_each_kind_of_test_fails_by_what_belongs_to_it(plan_care, record_test, rules, kind, readings, words):
    record = record_test(plan_care(kind=kind), readings=readings)

    assert not record.passed
    assert words in record.fault.note


def test_what_the_tester_calls_failed_has_failed_though_every_reading_is_within(plan_care, record_test, rules):
    record = record_test(plan_care(), passed=False, note="The casing is cracked.")

    assert not record.passed
    assert "The casing is cracked." in record.fault.note


def test_a_failed_reading_that_cannot_be_kept_keeps_nothing(plan_care, record_test, rules, monkeypatch):
    monkeypatch.setattr(SafetyReading.objects, "bulk_create", lambda *_: 1 / 0)

    with pytest.raises(ZeroDivisionError):
        record_test(plan_care(), readings={Kind.VISUAL: False})

    assert [model.objects.count() for model in (CareRecord, Fault, SafetySheet)] == [0, 0, 0]


@pytest.mark.parametrize("value", ["0.19", "0.9"])
def test_a_form_sent_twice_is_one_record_with_one_sheet(plan_care, record_test, rules, value):
    plan, key = plan_care(), uuid.uuid4()
    facts = {"form_key": key, "seen": logbook.newest_line(plan), "readings": {Kind.EARTH: Figure(value=Decimal(value))}}

    first, second = (record_test(plan, **facts) for _ in range(2))

    assert first.pk == second.pk
    assert (SafetySheet.objects.count(), SafetyReading.objects.count()) == (1, 1)


def test_sent_again_with_another_reading_it_is_told_that_it_was_recorded(plan_care, record_test, rules):
    plan = plan_care()
    facts = {"form_key": uuid.uuid4(), "seen": logbook.newest_line(plan)}
    record_test(plan, **facts)

    with pytest.raises(logbook.ChangedMeanwhile):
        record_test(plan, readings={Kind.VISUAL: True}, **facts)


@pytest.mark.parametrize(
    ("facts", "refusal", "field"),
    [
        ({"readings": {}}, NothingRead, None),
        ({"readings": {Kind.TRIP_RATED: Figure(value=Decimal(9))}}, NotOfThisTest, None),
        ({"readings": {Kind.EARTH: True}}, NotOfThisTest, None),
        ({"tested": {"protection": Protection.CLASS_II}}, ReadingNotTaken, "earth"),
        ({"tested": {"lead": None}}, ReadingNotTaken, "earth"),
        ({"readings": {Kind.LEAKAGE: Figure(value=Decimal(9), bound=Bound.LESS)}}, ReadingNotTaken, "leakage"),
        ({"tested": {"heating_kw": Decimal(61)}}, HeatingNotSensible, "heating_kw"),
        ({"tested": {"heating_kw": Decimal("NaN")}}, HeatingNotSensible, "heating_kw"),
        ({"tested": {"heating_kw": Decimal("2.755")}}, FinerThanKept, "heating_kw"),
        ({"tested": {"lead": Lead(length_m=Decimal("2.555"), mm2=Decimal("1.5"))}}, FinerThanKept, "lead_m"),
        ({"done_on": date(2027, 9, 2)}, NotDoneYet, "done_on"),
        ({"done_by_name": " "}, NothingWritten, "done_by_name"),
    ],
)
def test_what_makes_no_sense_is_refused_by_its_field_and_keeps_nothing(
    plan_care, record_test, rules, facts, refusal, field
):
    plan = plan_care()

    with pytest.raises(refusal) as refused:
        record_test(plan, **facts)

    assert refused.value.field == field
    assert not CareRecord.objects.exists()


def test_a_borrower_records_no_readings(plan_care, record_test, sunniva):
    with pytest.raises(NotTheirs):
        record_test(plan_care(), by=sunniva)


@pytest.mark.parametrize("kind", ["service", "probe"])
def test_a_service_has_no_readings_and_a_probe_has_checks_of_its_own(plan_care, record_test, kind):
    with pytest.raises(NotOfThisTest):
        record_test(plan_care(kind=kind), readings={Kind.VISUAL: True})


def test_readings_are_never_changed_or_taken_away(plan_care, record_test):
    reading = record_test(plan_care()).sheet.readings.first()

    for row in (reading, reading.sheet):
        with pytest.raises(TypeError):
            row.save()
        with pytest.raises(TypeError):
            row.delete()


def test_a_reading_with_a_limit_says_both_in_a_fault(plan_care, record_test, rules):
    record = record_test(plan_care(), readings={Kind.INSULATION: Figure(value=Decimal("0.999"))})

    assert finding_in_words(record.sheet.readings.get()) == "insulation resistance at 500 V 0.999 MΩ, at least 1 MΩ"


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("test_has_one_reading_of_a_kind|UNIQUE", {}),
        ("test_reading_is_a_figure_or_a_look", {"kind": "earth", "value": Decimal(1)}),
        ("test_reading_is_a_figure_or_a_look", {"kind": "earth", "as_it_should_be": None}),
        ("test_reading_with_a_limit_is_judged", {"kind": "earth", "limit_value": Decimal(1), "within": None}),
    ],
)
def test_the_database_keeps_readings_whole(plan_care, record_test, promise, changes):
    sheet = record_test(plan_care(), readings={Kind.VISUAL: True}).sheet
    facts = {"kind": "visual", "as_it_should_be": True, "within": True} | changes

    with pytest.raises(IntegrityError, match=promise), transaction.atomic():
        SafetyReading.objects.create(sheet=sheet, **facts)


def test_the_database_takes_no_half_a_lead(plan_care, record_care):
    record = record_care(plan_care())

    with pytest.raises(IntegrityError, match="test_sheet_describes_a_lead_wholly"), transaction.atomic():
        SafetySheet.objects.create(record=record, lead_m=Decimal(5))
