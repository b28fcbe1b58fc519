"""Planning, changing, ending and recording services and safety tests."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.kits import actions as kits
from kitshare.logbook import actions as logbook
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import care
from kitshare.upkeep.care_models import CarePlan, CareRecord, UpkeepCalendar
from kitshare.upkeep.care_refusals import (
    DayNotSensible,
    DoneSince,
    DueTooSoon,
    IntervalNotSensible,
    MachineNotLent,
    NotDoneYet,
    NothingWritten,
    NotTheirs,
    PlanEnded,
    PlanNameTaken,
)
from kitshare.upkeep.models import Fault

pytestmark = pytest.mark.django_db


def facts_of(plan: CarePlan, **changes):
    names = ("kind", "name", "every", "unit", "due_on", "who", "caution")
    return {name: getattr(plan, name) for name in names} | changes


@pytest.fixture
def change(perpetua, now):
    def change_it(plan, reason="", seen=None, **changes):
        return care.change_plan(plan=plan, by=perpetua, at=now, reason=reason, seen=seen, **facts_of(plan, **changes))

    return change_it


# Planning


def test_a_plan_is_due_on_the_day_given_and_stands_in_the_logbook(plan_care, mill):
    plan = plan_care()

    assert plan.due_on == date(2027, 9, 10)
    text = Entry.objects.about(mill)[0].text
    assert text == "Heron mill: Electrical test: planned every 12 months, first due on Fri 10 Sep 2027."


def test_a_form_sent_twice_is_one_plan(plan_care):
    key = uuid.uuid4()

    first, second = plan_care(form_key=key), plan_care(form_key=key)

    assert first.pk == second.pk
    assert CarePlan.objects.count() == 1


def test_two_plans_of_a_machine_do_not_share_a_name_but_an_ended_one_gives_its_own_back(plan_care, teodor, now, today):
    plan = plan_care()

    with pytest.raises(PlanNameTaken):
        plan_care()
    care.end_plan(plan=plan, reason="Another way now.", by=teodor, at=now, today=today)

    assert plan_care().pk != plan.pk


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"every": 0}, IntervalNotSensible, "every"),
        ({"every": 121}, IntervalNotSensible, "every"),
        ({"every": 10**40}, IntervalNotSensible, "every"),
        ({"name": "  "}, NothingWritten, "name"),
        ({"due_on": date(1999, 12, 31)}, DayNotSensible, "due_on"),
        ({"due_on": date(2101, 1, 1)}, DayNotSensible, "due_on"),
    ],
)
def test_what_makes_no_sense_is_refused_by_its_field(plan_care, changes, refusal, field):
    with pytest.raises(refusal) as refused:
        plan_care(**changes)

    assert refused.value.field == field
    assert not CarePlan.objects.exists()


def test_a_borrower_plans_changes_ends_and_records_nothing(plan_care, record_care, sunniva, now, today):
    plan = plan_care()

    with pytest.raises(NotTheirs):
        plan_care(by=sunniva, name="Another")
    with pytest.raises(NotTheirs):
        care.change_plan(plan=plan, by=sunniva, at=now, **facts_of(plan, name="Another"))
    with pytest.raises(NotTheirs):
        care.end_plan(plan=plan, reason="No more.", by=sunniva, at=now, today=today)
    with pytest.raises(NotTheirs):
        record_care(plan, by=sunniva)


def test_a_retired_machine_gets_no_plan(plan_care, mill, perpetua, now, today):
    kits.retire_machine(machine=mill, reason="", by=perpetua, at=now, today=today)

    with pytest.raises(MachineNotLent):
        plan_care()


# Changing and ending


def test_moving_the_due_day_needs_a_reason_and_raises_the_sequence(plan_care, change):
    plan = plan_care()

    with pytest.raises(NothingWritten) as refused:
        change(plan, due_on=date(2027, 10, 1))
    moved = change(plan, due_on=date(2027, 10, 1), reason="The tester comes on the first.")

    assert refused.value.field == "reason"
    assert (moved.due_on, moved.sequence) == (date(2027, 10, 1), 1)
    text = Entry.objects.about(plan)[0].text
    assert "from Fri 10 Sep 2027 to Fri 1 Oct 2027. The tester comes on the first." in text


def test_another_name_needs_no_reason_and_leaves_the_sequence(plan_care, change):
    plan = change(plan_care(), name="Yearly electrical test")

    assert (plan.name, plan.sequence) == ("Yearly electrical test", 0)


def test_a_change_sent_twice_is_written_down_once(plan_care, change):
    plan = plan_care()

    change(plan, name="Yearly")
    change(plan, name="Yearly")

    assert Entry.objects.about(plan).filter(deed="care_changed").count() == 1


def test_of_two_tabs_the_second_is_told_what_the_first_did(plan_care, change, record_care):
    plan = plan_care()
    seen = logbook.newest_line(plan)
    record_care(plan)

    with pytest.raises(logbook.ChangedMeanwhile, match="Teodor Haskerby"):
        change(plan, seen=seen, name="Yearly")
    with pytest.raises(logbook.ChangedMeanwhile, match="passed on Wed 1 Sep 2027"):
        record_care(plan, seen=seen, note="Again.")

    assert CareRecord.objects.count() == 1


def test_an_ended_plan_is_neither_changed_nor_recorded_and_its_records_stay(plan_care, change, record_care, end):
    plan = plan_care()
    record_care(plan)

    end(plan)
    end(plan)

    plan.refresh_from_db()
    assert (plan.is_ended, plan.records.count()) == (True, 1)
    assert Entry.objects.about(plan).filter(deed="care_ended").count() == 1
    with pytest.raises(PlanEnded):
        change(plan, name="Yearly")
    with pytest.raises(PlanEnded):
        record_care(plan)


@pytest.fixture
def end(teodor, now, today):
    return lambda plan, reason="Sold.": care.end_plan(plan=plan, reason=reason, by=teodor, at=now, today=today)


def test_ending_says_why(plan_care, end):
    with pytest.raises(NothingWritten):
        end(plan_care(), reason=" ")


# Recording


def test_a_test_that_passed_is_due_again_by_its_interval_from_the_day_it_was_done(plan_care, record_care):
    plan = plan_care()

    record = record_care(plan)

    plan.refresh_from_db()
    assert plan.due_on == record.next_due_on == date(2028, 9, 1)
    assert (plan.sequence, record.due_before_on) == (1, date(2027, 9, 10))
    assert not Fault.objects.exists()


def test_another_next_day_may_be_given_but_not_one_before_it_was_done(plan_care, record_care, today):
    plan = plan_care()

    with pytest.raises(DueTooSoon):
        record_care(plan, next_due_on=today)
    record_care(plan, next_due_on=date(2028, 3, 1))

    plan.refresh_from_db()
    assert plan.due_on == date(2028, 3, 1)


def test_a_test_that_failed_sets_the_machine_aside_at_once_and_stays_due(plan_care, record_care, mill, today):
    plan = plan_care()

    record = record_care(plan, passed=False, note="The lead is cut.")

    plan.refresh_from_db()
    assert plan.due_on == today
    [fault] = Fault.objects.stopping([mill])
    assert record.fault == fault
    assert fault.note == ("“Electrical test” failed on Wed 1 Sep 2027, tested by Odile Marchbanks. The lead is cut.")


def test_the_coordinator_is_told_of_a_test_that_failed(plan_care, record_care, perpetua):
    record_care(plan_care(), passed=False)

    assert Message.objects.filter(member_key=perpetua.pk, subject__contains="stops use").exists()


def test_a_fault_that_cannot_be_kept_keeps_no_record(plan_care, record_care, monkeypatch):
    plan = plan_care()
    monkeypatch.setattr(upkeep, "report_fault", lambda **_: 1 / 0)

    with pytest.raises(ZeroDivisionError):
        record_care(plan, passed=False)

    plan.refresh_from_db()
    assert (CareRecord.objects.count(), plan.due_on) == (0, date(2027, 9, 10))


def test_after_a_failed_test_the_same_day_may_bring_a_passed_one(plan_care, record_care, today):
    plan = plan_care()
    record_care(plan, passed=False)

    record_care(plan)

    plan.refresh_from_db()
    assert plan.due_on == date(2028, 9, 1)


def test_a_service_is_done_and_never_fails(plan_care, record_care):
    record = record_care(plan_care(kind="service", name="Blades sharpened"), passed=False)

    assert record.passed
    assert not Fault.objects.exists()


@pytest.mark.parametrize("passed", [True, False])
def test_a_form_sent_twice_is_one_record_and_one_fault(plan_care, record_care, passed):
    plan, key = plan_care(), uuid.uuid4()
    seen = logbook.newest_line(plan)

    first, second = (record_care(plan, form_key=key, seen=seen, passed=passed) for _ in range(2))

    assert first.pk == second.pk
    assert CareRecord.objects.count() == 1
    assert Fault.objects.count() == (0 if passed else 1)


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"done_on": date(2027, 9, 2)}, NotDoneYet),
        ({"done_on": date(1999, 1, 1)}, DayNotSensible),
        ({"done_by_name": " "}, NothingWritten),
        ({"next_due_on": date(2101, 1, 1)}, DayNotSensible),
    ],
)
def test_a_record_that_makes_no_sense_is_refused(plan_care, record_care, changes, refusal):
    plan = plan_care()

    with pytest.raises(refusal):
        record_care(plan, **changes)

    assert not CareRecord.objects.exists()


def test_an_older_record_does_not_move_the_due_day_back(plan_care, record_care, today):
    plan = plan_care()
    record_care(plan)

    with pytest.raises(DoneSince):
        record_care(plan, done_on=today - timedelta(days=1))


def test_a_record_is_never_changed_or_taken_away(plan_care, record_care):
    record = record_care(plan_care())

    with pytest.raises(TypeError):
        record.save()
    with pytest.raises(TypeError):
        record.delete()
    with pytest.raises(TypeError):
        CareRecord.objects.update(note="Other.")


# The promises of the database, each tried by going past the actions


def refused(promise):
    return pytest.raises(IntegrityError, match=promise)


def again(row, **changes):
    row.pk, row.key = None, uuid.uuid4()
    for name, value in changes.items():
        setattr(row, name, value)
    with transaction.atomic():
        row.save(force_insert=True)


def test_a_plan_has_a_name_of_its_own(plan_care):
    plan = plan_care()

    with refused("care_plan_named_once_a_machine|UNIQUE"):
        again(plan)


@pytest.mark.parametrize("changes", [{"every": 0}, {"every": 121}, {"unit": "days", "every": 3661}, {"unit": "weeks"}])
def test_a_plan_recurs_within_ten_years(plan_care, changes):
    plan = plan_care()

    with refused("care_recurs_within_ten_years"):
        again(plan, name="Another", **changes)


def test_what_was_done_is_due_again_later(plan_care, record_care, today, teodor, now):
    plan = plan_care()
    facts = {"plan": plan, "done_on": today, "done_by_name": "X", "passed": True, "due_before_on": today}

    with refused("care_done_is_due_again_later"), transaction.atomic():
        CareRecord.objects.create(**facts, next_due_on=today, by=teodor, at=now)


def test_a_failed_test_names_its_fault(plan_care, today, teodor, now):
    facts = {"plan": plan_care(), "done_on": today, "done_by_name": "X", "passed": False, "due_before_on": today}

    with refused("test_failed_has_its_fault"), transaction.atomic():
        CareRecord.objects.create(**facts, next_due_on=today, by=teodor, at=now)


def test_there_is_one_upkeep_calendar():
    care.have_calendar()
    care.have_calendar()

    with refused("one_upkeep_calendar_a_site"), transaction.atomic():
        UpkeepCalendar.objects.create(pk=2)
