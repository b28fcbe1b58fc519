"""Fit to lend: one question about some machines and a day, and every asker gets its answer."""

from datetime import date, timedelta

import pytest

from kitshare.kits import actions as kits
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import care, fitness

pytestmark = pytest.mark.django_db

DUE = date(2027, 9, 10)
AFTER = DUE + timedelta(days=1)


@pytest.fixture
def report(mill, sunniva, now):
    def report_it(severity, note="It hums."):
        return upkeep.report_fault(machine=mill, part=None, note=note, severity=severity, by=sunniva, at=now)

    return report_it


def test_nothing_stops_a_machine_without_faults_or_plans(mill, today):
    assert fitness.reasons([mill], on=today) == []


def test_a_safety_test_stops_from_the_day_after_it_was_due(plan_care, mill):
    plan_care()

    assert fitness.stops([mill], on=DUE) == []
    [reason] = fitness.stops([mill], on=AFTER)
    assert str(reason) == (
        "Heron mill: “Electrical test” was due on Fri 10 Sep 2027, and is not recorded as passed since."
    )


def test_an_overdue_service_cautions_and_stops_nothing(plan_care, mill):
    plan_care(kind="service", name="Blades sharpened")

    assert fitness.stops([mill], on=AFTER) == []
    [reason] = fitness.reasons([mill], on=AFTER)
    assert (reason.stops, reason.why) == (False, "“Blades sharpened” has been due since Fri 10 Sep 2027.")


def test_what_stops_comes_before_what_cautions_and_looks_count_for_nothing(plan_care, report, mill):
    report(Severity.LOOKS_ONLY)
    report(Severity.USE_WITH_CARE, note="Runs warm.")
    report(Severity.STOPS_USE, note="The guard is bent.")
    plan_care()

    found = fitness.reasons([mill], on=AFTER)

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
