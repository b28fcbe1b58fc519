"""Codes of kits, machines and boxes: made with them, never twice, and made up for what was there before."""

from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from kitshare.kits import actions as kits
from kitshare.kits import coding
from kitshare.kits.code_models import Code
from kitshare.logbook.models import Entry
from kitshare.rules import codes

was_there = import_module("kitshare.kits.migrations.0007_codes_of_what_is_there")


def boxes(machine) -> list[str]:
    return list(machine.codes.exclude(box_key="").order_by("box").values_list("box", flat=True))


def test_a_kit_and_what_is_added_to_it_have_codes_from_the_start(depot, teodor, now):
    kit = kits.add_kit(name="Wren", depot=depot, by=teodor, at=now)
    mill = kits.add_machine(kit=kit, name="Hand mill", kind="mill", by=teodor, at=now)
    for name, place in (("Crank", "Lead box"), ("Pusher", " lead BOX "), ("Guard", "")):
        kits.add_part(machine=mill, name=name, packed_in=place, by=teodor, at=now)

    assert coding.code_of(kit)
    assert coding.code_of(mill)
    assert boxes(mill) == ["Lead box"]
    texts = Code.objects.of_kit(kit).values_list("text", flat=True)
    assert [codes.read(text) for text in texts] == list(texts)
    assert len(texts) == 3


def test_a_part_that_is_packed_elsewhere_brings_the_new_box_a_code_and_the_old_one_keeps_its_own(
    mill, drive_pin, teodor, now
):
    kits.change_part(part=drive_pin, caution="Unplug first.", by=teodor, at=now)
    assert boxes(mill) == ["Red tin, in the hopper"]

    kits.change_part(part=drive_pin, packed_in="Blue tin", by=teodor, at=now)

    assert boxes(mill) == ["Blue tin", "Red tin, in the hopper"]


def test_a_starter_machine_comes_with_codes_for_its_boxes(otter, teodor, now):
    [mill] = kits.add_starter_machines(kit=otter, choices=["mill"], by=teodor, at=now)

    assert coding.code_of(mill)
    assert "lead box" in boxes(mill)


def test_codes_are_made_once_for_what_was_there_before(heron, otter_mill, mill, drive_pin, guard, lead, teodor, now):
    assert coding.make_codes(by=teodor, at=now) == 6  # two kits, two mills, two boxes
    assert coding.make_codes(by=teodor, at=now) == 0
    assert coding.unmarked() == []
    assert [entry.text for entry in Entry.objects.about(heron)] == ["Made 6 codes for kits, machines and boxes."]


def test_what_is_retired_gets_no_new_code(heron, mill, drive_pin, today, teodor, now):
    kits.retire_kit(kit=heron, by=teodor, at=now, today=today)

    assert coding.make_codes(by=teodor, at=now) == 0


def test_a_running_season_gets_its_codes_with_the_new_version(heron, mill, drive_pin, guard):
    was_there.make(apps, connection.schema_editor())

    assert coding.unmarked() == []
    assert Code.objects.count() == 4


def test_a_code_that_was_drawn_before_is_drawn_again(heron, otter, monkeypatch):
    drawn = iter(["K7M4QX", "K7M4QX", "K7M4QY"])
    monkeypatch.setattr("kitshare.kits.coding.codes.draw", lambda _: next(drawn))

    coding.mark(heron)
    coding.mark(otter)

    assert Code.objects.get(kit=heron).text == "K7M4QX"
    assert Code.objects.get(kit=otter).text == "K7M4QY"


@pytest.mark.parametrize(
    ("promise", "of"),
    [
        ("kit_has_one_code", {"kit": "heron"}),
        ("machine_and_box_have_one_code", {"machine": "mill", "box_key": "red tin"}),
        ("code_means_one_thing", {"kit": "heron", "machine": "mill"}),
        ("code_means_one_thing", {}),
    ],
)
def test_a_code_means_one_thing_and_a_thing_has_one_code(heron, mill, promise, of):
    things = {"heron": heron, "mill": mill}
    row = {key: things.get(value, value) for key, value in of.items()}
    if not promise.startswith("code"):
        Code.objects.create(text="AAAAAA", **row)

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        Code.objects.create(text="BBBBBB", **row)

    assert promise in str(refused.value) or "UNIQUE" in str(refused.value)
