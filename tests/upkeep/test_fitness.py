"""Fit to lend: one question about some machines and a day, and every asker gets its answer."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitshare.kits import actions as kits
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import care, fitness
from kitshare.upkeep.use import Work, note_use
from kitshare.upkeep.use_models import UseSource

pytestmark = pytest.mark.django_db

DUE = date(2027, 9, 10)
AFTER = DUE + timedelta(days=1)
SEASONS = [Period(start=date(2027, 8, 15), end=date(2027, 12, 1))]


@pytest.fixture
def report(mill, sunniva, now):
    def report_it(severity, note="It hums."):
        return upkeep.report_fault(machine=mill, part=None, note=note, severity=severity, by=sunniva, at=now)

    return report_it


@pytest.fixture
def reasons(today):
    def ask(machines, *, on):
        return fitness.reasons(machines, on=on, today=today, seasons=SEASONS)

    return ask


def test_nothing_stops_a_machine_without_faults_or_plans(reasons, mill, today):
    assert reasons([mill], on=today) == []


def test_a_safety_test_stops_from_the_day_after_it_was_due(plan_care, mill):
    plan_care()

    assert fitness.stops([mill], on=DUE) == []
    [reason] = fitness.stops([mill], on=AFTER)
    assert str(reason) == (
        "Heron mill: “Electrical test” was due on Fri 10 Sep 2027, and is not recorded as passed since."
    )


def test_an_overdue_service_cautions_and_stops_nothing(reasons, plan_care, mill):
    plan_care(kind="service", name="Blades sharpened")

    assert fitness.stops([mill], on=AFTER) == []
    [reason] = reasons([mill], on=AFTER)
    assert (reason.stops, reason.why) == (False, "“Blades sharpened” has been due since Fri 10 Sep 2027.")


def test_what_stops_comes_before_what_cautions_and_looks_count_for_nothing(reasons, plan_care, report, mill):
    report(Severity.LOOKS_ONLY)
    report(Severity.USE_WITH_CARE, note="Runs warm.")
    report(Severity.STOPS_USE, note="The guard is bent.")
    plan_care()

    found = reasons([mill], on=AFTER)

    assert [reason.stops for reason in found] == [True, True, False]
    assert [reason.why for reason in found if reason.fault] == ["The guard is bent.", "Runs warm."]


def test_a_passed_test_stops_nothing_and_a_failed_one_stops_until_it_is_passed(
    plan_care, record_care, mill, teodor, now, today
):
    plan = plan_care()
    failed = record_care(plan, passed=False)
    fault = upkeep.mend_fault(fault=failed.fault, note="New lead.", by=teodor, at=now, revision=1)
    upkeep.release_fault(fault=fault, retest_note="Ran.", by=teodor, at=now, revision=2)
    tomorrow = today + timedelta(days=1)

    still = fitness.stops([mill], on=tomorrow)
    record_care(plan, done_on=today)

    assert [reason.plan for reason in still] == [plan]
    assert fitness.stops([mill], on=tomorrow) == []


def test_ended_plans_and_retired_machines_stop_nothing(plan_care, mill, press, teodor, perpetua, now, today):
    ended = plan_care()
    plan_care(machine=press)
    care.end_plan(plan=ended, reason="No more.", by=teodor, at=now, today=today)
    kits.retire_machine(machine=press, reason="", by=perpetua, at=now, today=today)

    assert fitness.stops([mill, press], on=AFTER) == []


def test_an_overdue_test_promises_days_to_come_all_the_same(plan_care, mill):
    plan_care(due_on=date(2027, 8, 1))

    assert fitness.set_aside([mill]) == []


@pytest.mark.parametrize("number", [1, 12])
def test_the_question_costs_the_same_for_one_machine_and_for_twelve(
    plan_care, heron, number, django_assert_num_queries
):
    machines = [heron.machines.create(name=f"Mill {place}", kind="mill") for place in range(number)]
    for machine in machines:
        plan_care(machine=machine)

    with django_assert_num_queries(2):
        assert len(fitness.stops(machines, on=AFTER)) == number


def test_whoever_released_a_fault_reads_that_a_test_still_stops_the_machine(plan_care, report, teodor, now):
    plan_care(due_on=date(2027, 8, 1))
    fault = report(Severity.STOPS_USE)
    fault = upkeep.mend_fault(fault=fault, note="Done.", by=teodor, at=now, revision=1)
    upkeep.release_fault(fault=fault, retest_note="Ran.", by=teodor, at=now, revision=2)

    body = Message.objects.get(key__startswith="fault-released", member_key=fault.reported_by_id).body
    assert "No fault stops Heron mill now, but it is still not handed over. “Electrical test” was due" in body


# Services that go by use


def mill_some(machine, today, *kilograms):
    for place, kg in enumerate(kilograms, start=1):
        work = Work(day=today - timedelta(days=place), machines=(machine,), kg=Decimal(kg))
        note_use(booking_key=100 * machine.pk + place, work=[work], source=UseSource.RECORDED)


def test_a_service_cautions_from_the_last_kilogram_on_and_stops_nothing(reasons, plan_care, mill, today):
    plan_care(kind="service", name="Blades sharpened", every_kg=Decimal(1000), due_on=date(2027, 12, 1))
    mill_some(mill, today, "999.5")

    under = reasons([mill], on=today)
    mill_some(mill, today, "1000")
    [at] = reasons([mill], on=today)

    assert under == []
    assert (at.stops, at.why) == (False, "“Blades sharpened” is due: it goes by 1,000 kg, and 1,000 kg were done.")
    assert fitness.stops([mill], on=today) == []


def test_asked_of_a_later_day_a_service_is_expected_by_then_and_not_before(reasons, plan_care, mill, today):
    """2000 kg in the 17 season days before today: 1000 more are there in 8.5 days, so about 9 September."""
    plan_care(kind="service", name="Blades sharpened", every_kg=Decimal(3000), due_on=date(2027, 12, 1))
    mill_some(mill, today, 500, 500, 500, 500)

    assert reasons([mill], on=today) == reasons([mill], on=date(2027, 9, 9)) == []
    [reason] = reasons([mill], on=date(2027, 9, 10))
    assert reason.why == "“Blades sharpened” is expected to be due about Thu 9 Sep 2027, by 3,000 kg."
    [by_date] = reasons([mill], on=date(2027, 12, 2))
    assert by_date.why == "“Blades sharpened” has been due since Wed 1 Dec 2027."


@pytest.mark.parametrize("number", [1, 12])
def test_all_reasons_cost_the_same_for_one_machine_and_for_twelve(
    reasons, plan_care, heron, number, today, sunniva, now, django_assert_num_queries
):
    machines = [heron.machines.create(name=f"Mill {place}", kind="mill") for place in range(number)]
    for machine in machines:
        pin = machine.parts.create(name="Pin", kind="vital", expected_count=1, position=1)
        fault = {"machine": machine, "note": "Gone.", "by": sunniva, "at": now}
        upkeep.report_fault(part=pin, severity=Severity.STOPS_USE, **fault)
        upkeep.report_fault(part=None, severity=Severity.USE_WITH_CARE, **fault)
        plan_care(machine=machine)
        plan_care(machine=machine, kind="service", name="Blades", every_kg=Decimal(500))
        mill_some(machine, today, 600)

    with django_assert_num_queries(5):
        found = reasons(machines, on=AFTER)
        assert len([key for reason in found for key in reason.machine_keys]) == 4 * number
