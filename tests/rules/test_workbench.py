"""The order of the workbench."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.checklists import Severity
from kitshare.rules.workbench import Rank, Task, Waiting, place_of, stopped_outing

TODAY = date(2027, 9, 1)


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def fault(severity: Severity = Severity.STOPS_USE, *outings: int, since: int = -1) -> Waiting:
    return Waiting(task=Task.FAULT, day=day(since), severity=severity, outings=[day(number) for number in outings])


def care(task: Task, due: int, *outings: int) -> Waiting:
    return Waiting(task=task, day=day(due), outings=[day(number) for number in outings])


@pytest.mark.parametrize(
    ("waiting", "stopped"),
    [
        (fault(Severity.STOPS_USE, 3, 9), 0),
        (fault(Severity.USE_WITH_CARE, 3), None),
        (fault(Severity.STOPS_USE), None),
        (care(Task.TEST, 3, 3, 4), 1),  # on its due day a test is not overdue yet
        (care(Task.TEST, -1, 3), 0),
        (care(Task.TEST, 0, -2), None),  # handed over today at the earliest, when it is due and not overdue
        (care(Task.TEST, -1, -2), 0),
        (care(Task.SERVICE, -9, 3), None),
    ],
)
def test_what_stops_which_outing(waiting, stopped):
    assert stopped_outing(waiting, today=TODAY) == stopped


def test_what_stops_a_booking_soonest_then_tests_then_services_then_the_rest_the_worst_first():
    in_order = [
        fault(Severity.STOPS_USE, 1),
        fault(Severity.STOPS_USE, 2, since=-9),
        care(Task.TEST, -4, 2),
        fault(Severity.STOPS_USE, 3),
        care(Task.TEST, -3),
        care(Task.TEST, 8, 7),
        care(Task.SERVICE, -30, 1),
        care(Task.SERVICE, 2),
        fault(Severity.STOPS_USE),
        fault(Severity.USE_WITH_CARE, 1),
        fault(Severity.USE_WITH_CARE, since=-20),
        fault(Severity.USE_WITH_CARE, since=-2),
        fault(Severity.LOOKS_ONLY, 1),
    ]

    places = [place_of(waiting, today=TODAY) for waiting in in_order]

    assert places == sorted(places)
    assert len(set(places)) == len(places)
    assert [place.rank for place in places] == [1, 1, 1, 1, 2, 2, 3, 3, 4, 4, 4, 4, 4]


@given(
    st.sampled_from(Severity),
    st.lists(st.integers(-30, 300), max_size=4).map(sorted),
    st.integers(-400, 14),
    st.sampled_from(Task),
)
def test_only_what_stops_a_booking_stands_among_the_first(severity, outings, number, task):
    waiting = fault(severity, *outings, since=number) if task == Task.FAULT else care(task, number, *outings)

    place = place_of(waiting, today=TODAY)

    assert (place.rank == Rank.STOPS_A_BOOKING) == (stopped_outing(waiting, today=TODAY) is not None)


def test_of_what_stops_one_outing_the_fault_comes_first_then_what_waits_longest():
    in_order = [
        fault(Severity.STOPS_USE, 3, since=-5),
        fault(Severity.STOPS_USE, 3, since=-4),
        care(Task.TEST, -9, 3),
        care(Task.TEST, -8, 3),
    ]

    places = [place_of(waiting, today=TODAY) for waiting in in_order]

    assert places == sorted(places)
    assert len(set(places)) == len(places)


def test_of_tests_due_on_one_day_the_machine_that_goes_out_sooner_comes_first():
    sooner, later, stays = (place_of(care(Task.TEST, 9, *out), today=TODAY) for out in ([2], [5], []))

    assert sooner < later < stays
