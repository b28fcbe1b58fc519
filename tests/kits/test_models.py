"""The promises of the tables, each tried by going around the actions."""

import pytest
from django.db import IntegrityError, transaction

from kitshare.kits.models import Depot, Kit, Machine, Part

pytestmark = pytest.mark.django_db


def test_a_depot_is_named_once(depot):
    with pytest.raises(IntegrityError):
        Depot.objects.create(name=depot.name)


def test_a_kit_is_named_once(heron, depot):
    with pytest.raises(IntegrityError):
        Kit.objects.create(name="Heron", depot=depot)


def test_machine_named_once_a_kit(mill, otter):
    Machine.objects.create(kit=otter, name="Heron mill", kind="mill")

    with pytest.raises(IntegrityError):
        Machine.objects.create(kit=mill.kit, name="Heron mill", kind="mill")


def test_part_in_use_named_once_a_machine(drive_pin, today):
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.create(machine=drive_pin.machine, name="Drive pin")
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.bulk_create([Part(machine=drive_pin.machine, name="Drive pin")])

    Part.objects.create(machine=drive_pin.machine, name="Drive pin", retired_on=today)


@pytest.mark.parametrize("count", [0, 1001])
def test_part_travels_in_a_sensible_number(drive_pin, count):
    with pytest.raises(IntegrityError):
        Part.objects.filter(pk=drive_pin.pk).update(expected_count=count)


def test_kit_care_is_two_weeks_at_most(heron):
    with pytest.raises(IntegrityError):
        Kit.objects.filter(pk=heron.pk).update(care_days=15)


def test_a_part_without_which_nobody_takes_the_machine(drive_pin, guard, lead, cloths):
    assert drive_pin.stops_a_handover
    assert guard.stops_a_handover
    assert not lead.stops_a_handover
    assert not cloths.stops_a_handover
