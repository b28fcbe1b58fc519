"""Safety tests from a file: what each row would become, all of them or none, and never twice."""

import pytest

from kitshare.people.models import Scheme
from kitshare.upkeep import from_file
from kitshare.upkeep.care_models import CareRecord
from kitshare.upkeep.from_file import FileRefused
from kitshare.upkeep.models import Fault
from kitshare.upkeep.reading_words import limit_in_words

pytestmark = pytest.mark.django_db

HEADINGS = "machine;test;day;tested by;outcome;class;lead m;lead mm2;looked over;earth ohm;insulation Mohm"
SOUND = "heron MILL;Electrical test;2027-09-01;Odile Marchbanks;passed;I;10;1,5;yes;0,19;>200"


@pytest.fixture
def british(scheme):
    Scheme.objects.update(electrical_rules="uk")


@pytest.fixture
def judge(today):
    return lambda *rows: from_file.judge("\n".join([HEADINGS, *rows]), today=today)


@pytest.fixture
def record(teodor, now, today):
    def record_it(*rows, by=teodor):
        return from_file.record_file(data="\n".join([HEADINGS, *rows]), by=by, at=now, today=today)

    return record_it


def test_each_test_of_a_file_is_recorded_with_its_readings(plan_care, british, record, press):
    plan_care()
    plan_care(machine=press, name="Guards", kind="guard")

    records = record(SOUND, "Heron press;Guards;2027-08-30;Teodor Haskerby;passed;;;;yes;;")

    assert [record.plan.name for record in records] == ["Guards", "Electrical test"]  # the oldest first
    earth = records[1].sheet.readings.get(kind="earth")
    assert (limit_in_words(earth), earth.within) == ("at most 0.233 Ω", True)


def test_a_failed_reading_in_a_file_sets_the_machine_aside(plan_care, british, judge, record, mill):
    plan_care()
    row = SOUND.replace("0,19", "0,24")

    [judged] = judge(row)
    [recorded] = record(row)

    assert judged.will_fail
    assert not recorded.passed
    assert Fault.objects.stopping([mill]).exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("heron MILL", "Otter mill", "No safety test in force is called so."),
        ("Electrical test", "Nothing", "No safety test in force is called so."),
        ("2027-09-01", "01/09/2027", "Write the day as year-month-day"),
        ("2027-09-01", "", "Write the day as year-month-day"),
        ("2027-09-01", "2027-09-02", "is still to come"),
        ("2027-09-01", "1999-12-31", "Give a day from the year 2000"),
        ("2027-09-01", "9999-12-31", "is still to come"),
        ("Odile Marchbanks", "", "Say who did it, by name."),
        ("passed", "perhaps", "Outcome: write passed or failed."),
        (";I;", ";IV;", "class: Write I, II or III."),
        (";10;", ";ten;", "lead m: Write a number"),
        (";10;", ";NaN;", "lead m: Write a number"),
        (";10;", ";201;", "Lead: 0 to 200 m"),
        (";10;", ";10,055;", "Give two decimals at most."),
        (";10;1,5;", ";10;;", "Lead: give both"),
        (";10;1,5;", ";;1,5;", "Lead: give both"),
        ("1,5", "3", "Lead: 0 to 200 m"),
        (";yes;", ";maybe;", "looked over: Write yes or no."),
        ("0,19", "0,19 mΩ", "earth ohm: “mΩ” is not the unit here"),
        (";I;", ";II;", "Only a machine of class I has an earth"),
        (">200", ">0.5", "does not tell whether it is kept"),
    ],
)
def test_a_row_that_makes_no_sense_says_why_and_nothing_of_its_file_is_recorded(
    plan_care, british, judge, record, press, old, new, words
):
    plan_care()
    plan_care(machine=press, name="Guards", kind="guard")
    fine, row = "Heron press;Guards;2027-08-30;Teodor;passed;;;;yes;;", SOUND.replace(old, new)

    good, bad = judge(fine, row)

    assert good.problems == []
    assert any(words in problem for problem in bad.problems)
    with pytest.raises(FileRefused, match="nothing was recorded"):
        record(fine, row)
    assert not CareRecord.objects.exists()


@pytest.mark.parametrize(("heading", "most"), [("note", 1200), ("instrument", 120)])
def test_what_is_too_long_to_be_kept_whole_is_refused_and_never_cut_off(plan_care, british, today, heading, most):
    plan_care()

    fits, too_long = from_file.judge(
        f"{HEADINGS};{heading}\n{SOUND};{most * 'x'}\n{SOUND};{(most + 1) * 'x'}", today=today
    )

    assert fits.problems == []
    assert too_long.problems == [f"{heading}: longer than {most} letters."]


def test_the_same_file_twice_makes_nothing_twice_whoever_brings_it(plan_care, british, judge, record, perpetua):
    plan_care()
    record(SOUND)

    assert [judged.is_known for judged in judge(SOUND)] == [True]
    assert record(SOUND) == []
    assert record(SOUND, by=perpetua) == []
    assert CareRecord.objects.count() == 1


def test_the_same_test_in_two_rows_is_one_record(plan_care, british, record):
    plan_care()

    first, second = record(SOUND, SOUND)

    assert first.pk == second.pk


def test_a_row_older_than_what_is_recorded_is_not_taken(plan_care, british, judge, record_care):
    record_care(plan_care())

    [judged] = judge(SOUND.replace("2027-09-01", "2027-08-01"))

    assert judged.problems == ["A later one is recorded already, of Wed 1 Sep 2027."]


def test_a_second_test_of_the_day_with_the_other_outcome_is_not_taken_for_the_first(plan_care, british, judge, record):
    """Failed in the morning, mended, tested again: to call the second known would lose it."""
    plan_care()
    failed = SOUND.replace("0,19", "0,24")
    record(failed)

    again, retest = judge(failed, SOUND)

    assert (again.is_known, again.problems) == (True, [])
    assert retest.problems == [
        "One of that day by the same tester is recorded with the other outcome. Record this by hand."
    ]


def test_both_tests_of_a_day_in_one_file_are_recorded_and_known_afterwards(plan_care, british, judge, record):
    plan_care()
    both = SOUND.replace("0,19", "0,24"), SOUND

    assert [made.passed for made in record(*both)] == [False, True]
    assert [judged.is_known for judged in judge(*both)] == [True, True]


def test_a_file_without_the_headings_is_refused_in_words(today):
    with pytest.raises(FileRefused, match="No heading is called “speed” here"):
        from_file.judge("machine;speed\na;b", today=today)
