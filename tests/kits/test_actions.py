"""Changes to what exists: what is kept, what is refused, and what the logbook says of it."""

from datetime import date

import pytest

from kitshare.kits import actions as kits
from kitshare.kits.models import Kit, Machine, MachineKind, Part
from kitshare.kits.saving import NameTaken, NotInUse, UnknownStarter
from kitshare.kits.sharing import ServesElsewhere
from kitshare.logbook.models import Entry
from kitshare.rules.checklists import PartKind

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(perpetua, now):
    return {"by": perpetua, "at": now}


def line_about(thing) -> str:
    return Entry.objects.about(thing).first().text


def test_a_kit_is_made_of_machines_made_of_parts(who):
    depot = kits.add_depot(name="Goods Shed", directions="Behind the mill pond.", **who)
    kit = kits.add_kit(name="Wren", depot=depot, shape="wedge", care_days=2, **who)
    mill = kits.add_machine(kit=kit, name="Wren mill", kind=MachineKind.MILL, **who)
    press = kits.add_machine(kit=kit, name="Wren press", kind=MachineKind.PRESS, **who)
    handle = kits.add_part(machine=press, name="Screw handle", kind=PartKind.VITAL, **who)
    racks = kits.add_part(machine=press, name="Racks", kind=PartKind.COUNTED, expected_count=7, **who)

    assert (mill.position, press.position) == (1, 2)
    assert (handle.position, racks.position) == (1, 2)
    assert list(Part.objects.travelling()) == [handle, racks]
    assert line_about(racks) == line_about(kit) == "Added the part Racks to Wren press."


@pytest.mark.parametrize("kind", ["depot", "kit", "machine", "part"])
def test_a_name_that_is_taken_is_refused_in_words(who, depot, heron, mill, drive_pin, kind):
    adding = {
        "depot": lambda: kits.add_depot(name=depot.name, **who),
        "kit": lambda: kits.add_kit(name="Heron", depot=depot, **who),
        "machine": lambda: kits.add_machine(kit=heron, name="Heron mill", kind="mill", **who),
        "part": lambda: kits.add_part(machine=mill, name="Drive pin", **who),
    }
    lines = Entry.objects.count()

    with pytest.raises(NameTaken, match="is the name of another one here") as refusal:
        adding[kind]()

    assert refusal.value.name in str(refusal.value)
    assert Entry.objects.count() == lines


def test_a_change_to_a_taken_name_is_refused_too(who, heron, otter):
    with pytest.raises(NameTaken):
        kits.change_kit(kit=otter, name="Heron", **who)

    otter.refresh_from_db()
    assert otter.name == "Otter"


def test_the_logbook_says_what_changed_from_what_to_what(who, drive_pin):
    kits.change_part(part=drive_pin, kind=PartKind.ORDINARY, number="", packed_in=drive_pin.packed_in, **who)

    assert line_about(drive_pin) == (
        "Changed the part Drive pin: kind from “vital part” to “ordinary part”;"
        " number stamped on it from “H1” to nothing."
    )


def test_a_change_that_changes_nothing_writes_nothing(who, drive_pin):
    kits.change_part(part=drive_pin, name="Drive pin", number="H1", **who)

    assert not Entry.objects.exists()


def test_a_change_leaves_alone_what_happened_to_other_facts_meanwhile(who, drive_pin):
    seen_earlier = Part.objects.get(pk=drive_pin.pk)
    kits.change_part(part=drive_pin, number="H9", **who)

    kits.change_part(part=seen_earlier, caution="Unplug first.", **who)

    drive_pin.refresh_from_db()
    assert (drive_pin.caution, drive_pin.number) == ("Unplug first.", "H9")


def test_a_retired_part_leaves_the_checklists_and_keeps_its_history(who, today, drive_pin, guard):
    kits.retire_part(part=drive_pin, reason="Bent beyond mending.", today=today, **who)

    assert list(Part.objects.travelling()) == [guard]
    assert drive_pin.is_retired_on(today)
    assert line_about(drive_pin) == "Retired the part Drive pin of Heron mill. Bent beyond mending."


def test_a_new_part_may_take_the_name_of_a_retired_one_which_then_cannot_come_back(who, today, mill, drive_pin):
    kits.retire_part(part=drive_pin, today=today, **who)
    new = kits.add_part(machine=mill, name="Drive pin", kind=PartKind.VITAL, **who)

    with pytest.raises(NameTaken):
        kits.bring_back_part(part=drive_pin, **who)

    assert list(Part.objects.travelling()) == [new]
    assert Part.objects.get(pk=drive_pin.pk).retired_on == today


def test_a_part_retired_by_mistake_is_brought_back(who, today, drive_pin):
    kits.retire_part(part=drive_pin, today=today, **who)

    kits.bring_back_part(part=drive_pin, **who)

    assert list(Part.objects.travelling()) == [drive_pin]
    assert line_about(drive_pin) == "Brought the part Drive pin of Heron mill back into use."


def test_retiring_twice_is_one_retirement(who, today, heron, mill, drive_pin):
    for _time in range(2):
        kits.retire_part(part=drive_pin, today=today, **who)
        kits.retire_machine(machine=mill, today=today, **who)
        kits.retire_kit(kit=heron, today=today, **who)

    assert sorted(Entry.objects.values_list("deed", flat=True)) == ["kit_retired", "machine_retired", "part_retired"]


def test_bringing_back_what_is_in_use_writes_nothing(who, heron, mill, drive_pin):
    kits.bring_back_part(part=drive_pin, **who)
    kits.bring_back_machine(machine=mill, **who)
    kits.bring_back_kit(kit=heron, **who)

    assert not Entry.objects.exists()


def test_with_a_kit_its_machines_go_out_of_use_and_come_back(who, today, heron, mill, press):
    kits.retire_machine(machine=press, today=date(2027, 1, 2), **who)
    kits.retire_kit(kit=heron, today=today, **who)
    assert not Machine.objects.in_use().exists()
    assert not Kit.objects.in_use().exists()

    kits.bring_back_kit(kit=heron, **who)

    assert list(Machine.objects.in_use()) == [mill]


def test_nothing_is_added_to_what_is_retired(who, today, heron, mill):
    kits.retire_machine(machine=mill, today=today, **who)
    kits.retire_kit(kit=heron, today=today, **who)

    with pytest.raises(NotInUse, match="Heron mill is retired"):
        kits.add_part(machine=mill, name="Hopper", **who)
    with pytest.raises(NotInUse, match="Heron is retired"):
        kits.add_machine(kit=heron, name="Another mill", kind="mill", **who)
    with pytest.raises(NotInUse, match="Heron is retired"):
        kits.add_starter_machines(kit=heron, choices=["mill"], **who)


def test_parts_change_places_in_the_order_of_packing(who, drive_pin, guard, lead):
    kits.move_part(part=lead, earlier=True, **who)
    assert list(Part.objects.travelling()) == [drive_pin, lead, guard]

    kits.move_part(part=drive_pin, earlier=False, **who)

    assert list(Part.objects.travelling()) == [lead, drive_pin, guard]


def test_the_first_cannot_be_packed_earlier_nor_the_last_later(who, drive_pin, guard):
    kits.move_part(part=drive_pin, earlier=True, **who)
    kits.move_part(part=guard, earlier=False, **who)

    assert list(Part.objects.travelling()) == [drive_pin, guard]
    assert not Entry.objects.exists()


def test_parts_that_share_a_place_still_change_places(who, mill, drive_pin, guard):
    Part.objects.update(position=0)

    kits.move_part(part=guard, earlier=True, **who)

    assert list(Part.objects.travelling()) == [guard, drive_pin]


def test_a_retired_part_has_no_place_to_move_to(who, today, drive_pin, guard):
    kits.retire_part(part=guard, today=today, **who)

    kits.move_part(part=guard, earlier=True, **who)

    assert Entry.objects.about(guard).count() == 1


def test_machines_change_places_too(who, heron, mill, press):
    kits.move_machine(machine=press, earlier=True, **who)

    assert list(heron.machines.order_by("position")) == [press, mill]


def test_the_starter_list_adds_machines_with_all_that_must_travel(who, otter):
    mill, press, pasteuriser = kits.add_starter_machines(kit=otter, choices=["press", "pasteuriser", "mill"], **who)

    assert [machine.kind for machine in (mill, press, pasteuriser)] == ["mill", "press", "pasteuriser"]
    assert mill.name == "Otter mill"
    assert mill.parts.get(name="Drive pin").kind == PartKind.VITAL
    assert mill.parts.get(name="Feed guard").kind == PartKind.GUARD
    assert press.parts.get(name="Cloths").expected_count == 12
    assert press.parts.get(name="Racks").expected_count == 11
    assert pasteuriser.parts.get(name="Low-water cut-off").kind == PartKind.GUARD
    assert Entry.objects.about(mill.parts.get(name="Hopper")).count() == 1


def test_a_kit_with_a_long_name_does_not_lend_it_to_its_starter_machines(who, depot):
    kit = kits.add_kit(name="K" * 60, depot=depot, **who)

    (press,) = kits.add_starter_machines(kit=kit, choices=["press"], **who)

    assert press.name == "Press"


def test_only_the_chosen_starter_machines_are_added(who, otter):
    machines = kits.add_starter_machines(kit=otter, choices=["press"], **who)

    assert list(otter.machines.all()) == machines


def test_an_unknown_starter_machine_is_refused_and_nothing_is_added(who, otter):
    with pytest.raises(UnknownStarter, match="balloon"):
        kits.add_starter_machines(kit=otter, choices=["mill", "balloon"], **who)

    assert not otter.machines.exists()


def test_a_part_serves_machines_of_its_own_kit_alone(mill, press, otter_mill, drive_pin, who):
    kits.change_part(part=drive_pin, also_serves=[press], **who)
    for others in ([otter_mill], [mill]):
        with pytest.raises(ServesElsewhere):
            kits.change_part(part=drive_pin, also_serves=others, **who)

    assert list(drive_pin.also_serves.all()) == [press]
    assert Entry.objects.about(drive_pin).filter(deed="part_shared").count() == 1


def test_the_starter_list_shares_an_extension_lead_where_both_machines_are_there(otter, heron, who):
    both = kits.add_starter_machines(kit=otter, choices=["mill", "pasteuriser"], **who)
    (alone,) = kits.add_starter_machines(kit=heron, choices=["mill"], **who)

    shared = Part.objects.get(machine=both[0], name="Extension lead")
    assert list(shared.also_serves.all()) == [both[1]]
    assert not Part.objects.get(machine=alone, name="Extension lead").also_serves.exists()
