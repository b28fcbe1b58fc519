"""Weights: written down together, told in the logbook, added up for a box."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.kits import actions as kits
from kitshare.kits import coding, weighing
from kitshare.kits.code_models import Code
from kitshare.kits.models import Machine, Part
from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.rules.lifting import Load


@pytest.fixture
def tin(mill, drive_pin, teodor, now) -> Code:
    coding.make_codes(by=teodor, at=now)
    return Code.objects.boxes_of([mill]).get()


@pytest.fixture
def weigh(mill, teodor, now):
    def weigh_it(weights, **changes):
        weighing.weigh(machine=mill, weights=weights, by=teodor, at=now, **changes)

    return weigh_it


def test_a_machine_a_part_and_a_box_are_weighed_in_one_deed(mill, drive_pin, tin, weigh):
    weigh({mill: Decimal("47.5"), drive_pin: Decimal("0.2"), tin: Decimal(0)})

    for thing in (mill, drive_pin, tin):
        thing.refresh_from_db()
    assert (mill.weight_kg, drive_pin.weight_kg, tin.tare_kg) == (Decimal("47.5"), Decimal("0.2"), 0)
    text = "Wrote down weights of Heron mill: Heron mill 47.5 kg; Drive pin 0.2 kg; Red tin, in the hopper, empty 0 kg."
    assert [entry.text for entry in Entry.objects.about(drive_pin).filter(deed="weighed")] == [text]


def test_what_is_the_same_writes_no_line_and_what_was_taken_back_is_not_known(mill, drive_pin, weigh):
    weigh({drive_pin: Decimal("0.2")})
    weigh({drive_pin: Decimal("0.20"), mill: None})
    assert Entry.objects.filter(deed="weighed").count() == 1

    weigh({drive_pin: None})
    drive_pin.refresh_from_db()
    assert drive_pin.weight_kg is None


@pytest.mark.parametrize("kg", ["-0.1", "2000.1", "0.25", "NaN", "Infinity"])
def test_what_is_no_weight_is_refused_and_nothing_of_it_written(kg, mill, drive_pin, weigh):
    with pytest.raises(weighing.NotWeighedSo):
        weigh({drive_pin: Decimal("0.2"), mill: Decimal(kg)})

    drive_pin.refresh_from_db()
    assert drive_pin.weight_kg is None


def test_a_part_of_another_machine_is_refused(press, cloths, weigh):
    with pytest.raises(weighing.NotOfThisMachine):
        weigh({cloths: Decimal(1)})


def test_who_typed_an_old_page_is_told_who_weighed_it_meanwhile(mill, drive_pin, weigh):
    seen = newest_line(mill)
    weigh({mill: Decimal(47)})

    with pytest.raises(ChangedMeanwhile, match="Heron mill 47 kg"):
        weigh({mill: Decimal(50)}, seen=seen)


def test_a_box_weighs_its_parts_and_itself_and_at_least_that_where_something_was_not_weighed(
    mill, drive_pin, tin, weigh, teodor, now
):
    kits.change_part(part=drive_pin, expected_count=3, by=teodor, at=now)
    weigh({drive_pin: Decimal("0.2"), tin: Decimal("0.3")})
    drive_pin.refresh_from_db()
    box, inside = drive_pin.packed_in.upper(), [(drive_pin, 3)]
    tares = weighing.tares_of([mill])

    assert weighing.box_load(mill, box, inside, tares) == Load(kg=Decimal("0.9"), is_all=True)
    assert weighing.box_load(mill, box, [*inside, (Part(), 1)], tares) == Load(kg=Decimal("0.9"), is_all=False)
    assert weighing.box_load(mill, box, [*inside, (drive_pin, 1)], {}) == Load(kg=Decimal("0.8"), is_all=False)
    assert weighing.box_load(mill, box, inside, {}) is None


def test_the_database_takes_no_weight_that_nothing_has(mill, tin):
    for promise, rows, change in (
        ("machine_weight_is_believable", Machine.objects.filter(pk=mill.pk), {"weight_kg": Decimal(-1)}),
        ("part_weight_is_believable", Part.objects.filter(machine=mill), {"weight_kg": Decimal("2000.1")}),
        ("only_a_box_has_a_tare", Code.objects.filter(pk=tin.pk), {"tare_kg": Decimal("200.1")}),
        ("only_a_box_has_a_tare", Code.objects.filter(machine=mill, box_key=""), {"tare_kg": Decimal(1)}),
    ):
        with pytest.raises(IntegrityError, match=promise), transaction.atomic():
            rows.update(**change)
