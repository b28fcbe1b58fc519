"""The starter list fits the tables, and its words are careful ones."""

import pytest

from kitshare.kits.models import Machine, Part
from kitshare.kits.starter import NAME_LENGTH, STARTER_MACHINES
from kitshare.rules.checklists import PartKind

PAIRS = [(machine, part) for machine in STARTER_MACHINES for part in machine.parts]


@pytest.mark.parametrize("starter", STARTER_MACHINES, ids=lambda starter: starter.kind.value)
def test_a_starter_machine_would_pass_its_form(starter):
    machine = Machine(name=str(starter.name), kind=starter.kind, caution=str(starter.caution))

    machine.clean_fields(exclude=["kit"])


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair[0].kind.value}-{pair[1].name}")
def test_a_starter_part_would_pass_its_form(pair):
    _machine, starter = pair
    words = {field: str(getattr(starter, field)) for field in ("name", "packed_in", "caution", "look_for")}

    Part(kind=starter.kind.value, expected_count=starter.expected_count, **words).clean_fields(exclude=["machine"])

    assert words["packed_in"]
    assert words["look_for"]


@pytest.mark.parametrize("starter", STARTER_MACHINES, ids=lambda starter: starter.kind.value)
def test_names_are_used_once_a_machine(starter):
    names = [str(part.name) for part in starter.parts]

    assert len(names) == len(set(names))


def test_nothing_is_called_safe():
    words = " ".join(
        str(text)
        for machine, part in PAIRS
        for text in (machine.name, machine.caution, part.name, part.caution, part.look_for, part.packed_in)
    )

    assert "safe" not in words.lower()


@pytest.mark.parametrize("starter", STARTER_MACHINES, ids=lambda starter: starter.kind.value)
def test_every_machine_defers_to_local_rules_and_takes_two_to_lift(starter):
    assert "Local rules come first." in str(starter.caution)
    assert "Two people lift it" in str(starter.caution)


def test_every_guard_part_carries_a_caution():
    guards = [part for _machine, part in PAIRS if part.kind is PartKind.GUARD]

    assert guards
    assert all(str(part.caution) for part in guards)


def test_a_starter_name_fits_the_model():
    assert Machine._meta.get_field("name").max_length == NAME_LENGTH
    assert STARTER_MACHINES[0].name_in("K" * 55) == "K" * 55 + " mill"
    assert STARTER_MACHINES[0].name_in("K" * 56) == "Mill"
