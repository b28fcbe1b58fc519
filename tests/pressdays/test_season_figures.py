"""A season added up: by village and by kit, of the days recorded and of no others."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings.models import Booking, Season, Stage
from kitshare.pressdays.season_figures import Figures, figures_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def outing(fennerlow, leilani, now):
    """An outing of Fennerlow that is over, told as history."""

    def outing(out_on, *machines, kg=100, stage=Stage.CLOSED):
        booking = Booking.objects.create(
            village=fennerlow,
            borrower=leilani,
            stage=stage,
            out_on=out_on,
            back_on=out_on + 2 * DAY,
            fruit_amount=Decimal(kg),
            fruit_kg=Decimal(kg),
            asked_at=now,
            changed_at=now,
        )
        booking.machines.set(machines)
        return booking

    return outing


def test_days_add_up_by_hand(record_day, outing, season, mill, otter_mill, today, heron, otter):
    """Sorrelhythe: 300 kg gave 165 L, and 200 kg gave 65 + 45; Fennerlow went out twice and recorded nothing."""
    record_day(hours=Decimal(5), helpers=6, waste_kg=Decimal(12))
    record_day(day=today + DAY, today=today + DAY, pressed_kg=Decimal(200), litres_heated=Decimal(45))
    outing(date(2027, 9, 10), mill, otter_mill, kg=250)
    outing(date(2027, 9, 20), otter_mill, kg=150)
    outing(date(2027, 9, 25), mill, stage=Stage.AGREED)
    outing(date(2027, 1, 25), mill)

    [found] = figures_of([season])

    fennerlow, sorrelhythe = found.villages
    assert (sorrelhythe.name, sorrelhythe.outings, sorrelhythe.recorded) == ("Sorrelhythe", 1, 1)
    assert (sorrelhythe.days_recorded, sorrelhythe.days_out) == (2, 3)
    assert (sorrelhythe.pressed_kg, sorrelhythe.waste_kg, sorrelhythe.litres) == (500, 12, 275)
    assert sorrelhythe.litres_by_use == {"fresh": 130, "frozen": 0, "heated": 145, "to_ferment": 0}
    assert sorrelhythe.litres_per_kg == Decimal("0.55")
    assert (sorrelhythe.helper_hours, sorrelhythe.litres_per_helper_hour) == (30, Decimal(275) / 30)
    assert (fennerlow.outings, fennerlow.recorded, fennerlow.litres_per_kg) == (2, 0, None)
    assert (fennerlow.asked_kg_unrecorded, fennerlow.litres_per_helper_hour) == (400, None)
    assert [(kit.name, kit.outings, kit.litres) for kit in found.kits] == [("Heron", 2, 275), ("Otter", 2, 0)]
    assert (found.all.outings, found.all.litres, found.all.days_out) == (3, 275, 7)
    assert found.of_village(sorrelhythe.key) == sorrelhythe
    assert (found.of_village(0), found.of_kit(0)) == (None, None)


def test_each_season_has_its_own_outings(record_day, outing, season, mill, heron):
    earlier = Season.objects.create(name="Autumn 2026", opens_on=date(2026, 8, 15), closes_on=date(2026, 11, 30))
    outing(date(2026, 9, 10), mill)
    outing(date(2027, 2, 10), mill)
    record_day()

    now, before = figures_of([season, earlier])

    assert (now.all.outings, now.all.litres) == (1, 165)
    assert (before.all.outings, before.all.litres) == (1, 0)
    assert now.of_kit(heron.pk).outings == before.of_kit(heron.pk).outings == 1


def test_it_costs_three_queries_whatever_is_in_it(record_day, outing, season, mill, django_assert_num_queries):
    record_day()
    with django_assert_num_queries(3):
        figures_of([season])
    for days in range(11):
        outing(date(2027, 10, 1) + days * DAY, mill)
    with django_assert_num_queries(3):
        figures_of([season])


def test_without_a_season_there_are_no_figures(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert figures_of([]) == []


def test_nothing_added_to_figures_changes_nothing():
    some = Figures(name="Heron", key=3, outings=2, pressed_kg=Decimal(5))

    assert some + Figures() == some
