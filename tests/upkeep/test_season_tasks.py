"""Tasks of a season's start and end: listed, ticked off by whom and when, and what is left as a caution."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import fit
from kitshare.bookings.models import Season
from kitshare.kits import actions as kits
from kitshare.kits.models import MachineKind
from kitshare.logbook import actions as logbook
from kitshare.logbook.models import Entry
from kitshare.upkeep import fitness, season_tasks
from kitshare.upkeep.care_refusals import MachineNotLent, NotTheirs
from kitshare.upkeep.season_lists import LISTS
from kitshare.upkeep.season_models import Occasion, SeasonTask, TaskTick

pytestmark = pytest.mark.django_db

LINES = ["Unplug it.", "  Look at the   blades. ", "", "Unplug it."]


@pytest.fixture
def listed(mill, teodor, now):
    def list_them(lines=LINES, **changes):
        facts = {"machine": mill, "occasion": Occasion.START, "by": teodor, "at": now}
        return season_tasks.list_tasks(lines=lines, **(facts | changes))

    return list_them


@pytest.fixture
def tick(season, teodor, now):
    def tick_them(tasks, **changes):
        facts = {"season_key": season.pk, "season_name": season.name, "by": teodor, "at": now}
        return season_tasks.tick(tasks=tasks, **(facts | changes))

    return tick_them


def test_a_list_holds_each_line_once_in_order_and_what_stays_by_its_words_keeps_its_tick(listed, tick, season, mill):
    first = listed()
    tick(first[:1])

    second = listed(["Run it empty.", "Unplug it."])

    assert [task.text for task in first] == ["Unplug it.", "Look at the blades."]
    assert [task.text for task in SeasonTask.objects.in_force().in_order()] == ["Run it empty.", "Unplug it."]
    assert second[1].pk == first[0].pk
    assert list(SeasonTask.objects.open(season.pk)) == [second[0]]
    assert Entry.objects.about(mill)[0].text == "Heron mill, tasks of the season's start: Run it empty.; Unplug it."


def test_a_task_is_ticked_once_a_season_by_whom_did_it_first_and_may_be_opened_again(
    listed, tick, season, teodor, perpetua, now
):
    [unplug, look] = listed()
    other = Season.objects.create(name="Autumn 2028", opens_on=date(2028, 8, 15), closes_on=date(2028, 11, 30))

    assert (tick([unplug, look]), tick([unplug], by=perpetua)) == (2, 0)
    assert set(TaskTick.objects.values_list("by__name", "season_key")) == {(teodor.name, season.pk)}
    assert SeasonTask.objects.open(other.pk).count() == 2
    for _twice in range(2):
        season_tasks.take_tick_back(task=look, season_key=season.pk, season_name=season.name, by=teodor, at=now)
    assert list(SeasonTask.objects.open(season.pk)) == [look]


def test_of_two_tabs_the_second_is_told_what_the_first_listed(listed, mill):
    listed()
    seen = logbook.newest_line(mill)
    listed(["One."], seen=seen)

    with pytest.raises(logbook.ChangedMeanwhile):
        listed(["Two."], seen=seen)


def test_borrowers_retired_machines_and_endless_lists_are_refused(listed, tick, sunniva, perpetua, mill, now, today):
    tasks = listed()
    for refused in (lambda: listed(["Other."], by=sunniva), lambda: tick(tasks, by=sunniva)):
        with pytest.raises(NotTheirs):
            refused()
    for lines in ([f"Task {number}" for number in range(41)], ["x" * 301]):
        with pytest.raises(season_tasks.TasksNotSensible):
            listed(lines)
    kits.retire_machine(machine=mill, reason="", by=perpetua, at=now, today=today)
    with pytest.raises(MachineNotLent):
        listed(["Other."])


def test_the_database_keeps_a_task_and_a_tick_from_being_there_twice(listed, tick, mill, season, teodor, now):
    [task, _other] = listed()
    tick([task])
    breaking = {
        "season_task_listed_once_a_machine": SeasonTask(machine=mill, occasion="start", text=task.text, position=9),
        "season_task_says_something": SeasonTask(machine=mill, occasion="start", text="", position=9),
        "season_task_ticked_once_a_season": TaskTick(task=task, season_key=season.pk, by=teodor, at=now),
    }

    for promise, row in breaking.items():
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()
        assert promise in {constraint.name for constraint in row._meta.constraints}


def test_what_is_left_of_the_start_cautions_in_the_first_four_weeks_and_stops_nothing(listed, tick, mill, season):
    """The season opens on 15 August: 11 September is the 28th day."""
    tasks = listed()
    last, after = date(2027, 9, 11), date(2027, 9, 12)

    [reason] = fit.reasons([mill], on=last, today=last)

    assert (reason.stops, reason.why) == (False, "2 tasks of the season's start are not ticked off.")
    assert fitness.stops([mill], on=last) == fit.reasons([mill], on=after, today=last) == []
    tick(tasks)
    assert fit.reasons([mill], on=last, today=last) == []


@pytest.mark.parametrize(
    ("day", "occasion"),
    [
        (date(2027, 7, 17), None),
        (date(2027, 7, 18), Occasion.START),
        (date(2027, 9, 11), Occasion.START),
        (date(2027, 9, 12), None),
        (date(2027, 11, 30), None),
        (date(2027, 12, 1), Occasion.LAY_UP),
        (date(2027, 11, 30) + timedelta(days=90), Occasion.LAY_UP),
        (date(2027, 11, 30) + timedelta(days=91), None),
    ],
)
def test_a_start_is_asked_for_around_the_opening_and_an_end_once_it_has_passed(season, day, occasion):
    assert fit.season_work(day) == (occasion and (season, occasion))


def test_every_kind_of_machine_has_a_list_to_begin_with_for_both_occasions():
    assert set(LISTS) == {(kind, occasion) for kind in MachineKind for occasion in Occasion}
    assert all(len(str(text)) <= season_tasks.LONGEST_TASK for texts in LISTS.values() for text in texts)
