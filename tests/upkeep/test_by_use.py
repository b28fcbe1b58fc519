"""Services that go by use: limits at, just under and just over, and whichever comes first."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.logbook.models import Entry
from kitshare.rules.due_by_use import First, Measure
from kitshare.rules.periods import Period
from kitshare.upkeep import by_use, care
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.care_refusals import UseNotSensible
from kitshare.upkeep.use import Work, note_use
from kitshare.upkeep.use_models import UseSource

pytestmark = pytest.mark.django_db

SEASONS = [
    Period(start=date(2027, 8, 15), end=date(2027, 12, 1)),
    Period(start=date(2028, 8, 15), end=date(2028, 12, 1)),
]
DAY = timedelta(days=1)


@pytest.fixture
def milled(mill, today):
    """Notes outings of the mill in the days before today, one for each amount, the last one yesterday."""

    def note(*kilograms, hours=5, source=UseSource.RECORDED, machine=None, first_key=1):
        for place, kg in enumerate(kilograms):
            day = today - (len(kilograms) - place) * DAY
            work = Work(day=day, machines=(machine or mill,), kg=Decimal(kg), hours=Decimal(hours))
            note_use(booking_key=first_key + place, work=[work], source=source)

    return note


@pytest.fixture
def sharpen(plan_care):
    def plan(**limits):
        return plan_care(**({"kind": "service", "name": "Blades sharpened", "due_on": date(2027, 11, 1)} | limits))

    return plan


def standing(plan, today):
    return by_use.standings([plan], seasons=SEASONS, today=today)[plan.pk]


@pytest.mark.parametrize(("kg", "reached"), [("999.9", False), ("1000", True), ("1000.1", True)])
def test_it_is_due_from_when_the_last_kilogram_was_milled(sharpen, milled, today, kg, reached):
    plan = sharpen(every_kg=Decimal(1000))
    milled(kg)

    found = standing(plan, today)

    assert (found.reached is not None) == reached
    assert by_use.is_due(plan, found, on=today) == reached
    assert found.first == (First(measure=Measure.KG, on=today) if reached else First(measure=None, on=plan.due_on))


def test_of_date_kilograms_hours_and_outings_the_first_counts(sharpen, milled, today):
    plan = sharpen(every_kg=Decimal(5000), every_hours=Decimal(26), every_outings=200)
    milled(300, 300, 300, 300, 300)  # 25 hours in the 17 season days from 15 August: 1 more is due within the day

    found = standing(plan, today)

    assert found.first == First(measure=Measure.HOURS, on=today + DAY)
    assert {limit.measure: limit.left for limit in found.limits} == {
        Measure.KG: Decimal(3500),
        Measure.HOURS: Decimal(1),
        Measure.OUTINGS: Decimal(195),
    }
    plan.due_on = today
    assert standing(plan, today).first == First(measure=None, on=today)


def test_use_counts_anew_once_it_is_recorded_and_too_few_outings_foretell_nothing(sharpen, milled, record_care, today):
    plan = sharpen(every_kg=Decimal(1000))
    milled(600, 700, source=UseSource.ESTIMATED)

    [before] = standing(plan, today).limits
    record_care(plan, done_on=today - 2 * DAY)
    [after] = standing(plan, today).limits

    assert (before.is_reached, before.used.estimated) == (True, 1300)
    assert (after.used.amount, after.left, after.forecast) == (700, 300, None)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"every_kg": Decimal(0)}, "every_kg"),
        ({"every_kg": Decimal("0.9")}, "every_kg"),
        ({"every_kg": Decimal(-5)}, "every_kg"),
        ({"every_kg": Decimal("NaN")}, "every_kg"),
        ({"every_kg": Decimal("1000000.1")}, "every_kg"),
        ({"every_hours": Decimal(10) ** 40}, "every_hours"),
        ({"every_hours": Decimal("1.25")}, "every_hours"),
        ({"every_outings": 0}, "every_outings"),
        ({"every_outings": 1001}, "every_outings"),
        ({"every_outings": 10**40}, "every_outings"),
        ({"kind": "guard", "every_outings": 10}, "every_outings"),
    ],
)
def test_a_use_that_makes_no_sense_and_a_test_by_use_are_refused_by_the_field(sharpen, changes, field):
    with pytest.raises(UseNotSensible) as refused:
        sharpen(**changes)

    assert refused.value.field == field
    assert not CarePlan.objects.exists()


def test_the_least_and_the_most_are_taken_and_kilograms_of_a_pasteuriser_are_not(sharpen, pasteuriser):
    sharpen(every_kg=Decimal(1), every_hours=Decimal(10_000), every_outings=1000)

    with pytest.raises(UseNotSensible, match="mills and presses"):
        sharpen(machine=pasteuriser, every_kg=Decimal(100))


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("only_a_service_goes_by_use", {"kind": "guard"}),
        ("care_goes_by_a_sensible_use", {"every_kg": Decimal(0)}),
        ("care_goes_by_a_sensible_use", {"every_outings": 1001}),
    ],
)
def test_the_database_refuses_them_too(sharpen, promise, changes):
    plan = sharpen(every_kg=Decimal(1000))

    with pytest.raises(IntegrityError, match=promise), transaction.atomic():
        CarePlan.objects.filter(pk=plan.pk).update(**changes)


def test_a_changed_limit_stands_in_the_logbook_in_words(sharpen, perpetua, now):
    plan = sharpen(every_kg=Decimal(2000))
    names = ("kind", "name", "every", "unit", "due_on", "who", "caution")

    said = {name: getattr(plan, name) for name in names}
    care.change_plan(plan=plan, every_kg=None, every_outings=12, by=perpetua, at=now, **said)

    assert "changed from every 2,000 kg, nothing to nothing, every 12 outings" in Entry.objects.about(plan)[0].text


@pytest.mark.parametrize("number", [1, 12])
def test_asking_costs_the_same_for_one_plan_and_for_twelve(
    plan_care, milled, heron, number, today, django_assert_num_queries
):
    plans = []
    for place in range(number):
        machine = heron.machines.create(name=f"Mill {place}", kind="mill")
        milled(100, 200, machine=machine, first_key=10 * place + 1)
        plans.append(plan_care(machine=machine, kind="service", every_kg=Decimal(1000)))

    with django_assert_num_queries(2):
        assert len(by_use.standings(plans, seasons=SEASONS, today=today)) == number
