"""How much machines were used: noted in place of what was noted before, and summed for services."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.upkeep.use import Use, Work, note_use, use_since
from kitshare.upkeep.use_models import MachineUse, UseSource

pytestmark = pytest.mark.django_db

FIRST, SECOND = date(2027, 9, 1), date(2027, 9, 2)


@pytest.fixture
def note(mill, press, pasteuriser):
    def note(booking_key, *kilograms, source=UseSource.RECORDED):
        work = [
            Work(day=day, machines=(mill, press, pasteuriser), kg=Decimal(kg), hours=Decimal(5), batches=4)
            for day, kg in zip((FIRST, SECOND), kilograms, strict=False)
        ]
        note_use(booking_key=booking_key, work=work, source=source)

    return note


def test_each_kind_of_machine_has_what_it_does_noted(note, mill, press, pasteuriser):
    note(7, 300)

    assert use_since([mill, press, pasteuriser]) == {
        mill.pk: Use(kg=Decimal(300), hours=Decimal(5), batches=0, outings=1),
        press.pk: Use(kg=Decimal(300), hours=Decimal(5), batches=0, outings=1),
        pasteuriser.pk: Use(kg=Decimal(0), hours=Decimal(5), batches=4, outings=1),
    }


def test_a_booking_of_two_days_is_one_outing_and_noting_it_again_takes_the_place_of_the_first(note, mill):
    note(7, 300, 200)
    note(8, 100)
    note(7, 310, 200)

    assert use_since([mill])[mill.pk] == Use(kg=Decimal(610), hours=Decimal(15), batches=0, outings=2)


def test_only_days_after_the_one_given_count(note, mill):
    note(7, 300, 200)

    assert use_since([mill], since=FIRST)[mill.pk].kg == 200
    assert use_since([mill], since=SECOND) == {}


def test_an_estimate_gives_way_to_a_record_and_not_the_other_way_round(note, mill):
    note(7, 400, source=UseSource.ESTIMATED)
    note(7, 300)
    note(7, 400, source=UseSource.ESTIMATED)

    assert use_since([mill])[mill.pk].kg == 300


def test_asking_for_many_machines_is_one_query(note, mill, press, pasteuriser, django_assert_num_queries):
    note(7, 300, 200)

    with django_assert_num_queries(1):
        use_since([mill, press, pasteuriser], since=FIRST)


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("machine_use_noted_once_a_day", {"kg": Decimal(1)}),
        ("machine_use_is_none_or_some", {"kg": Decimal(-1), "day": SECOND}),
    ],
)
def test_the_database_refuses_use_told_twice_or_negative(note, promise, changes):
    note(7, 300)
    row = MachineUse.objects.first()

    row.pk = None
    for name, value in changes.items():
        setattr(row, name, value)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)
    assert promise in {constraint.name for constraint in MachineUse._meta.constraints}
