"""Kinds of container: each change, each refusal, and what the logbook keeps of it."""

from decimal import Decimal

import pytest

from kitshare.logbook.models import Entry
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import ContainerKind, MaterialChoice
from kitshare.pressdays.refusals import KindNameTaken, OnlyGlassIsReused
from kitshare.rules.containers import refusals

pytestmark = pytest.mark.django_db


def test_a_kind_of_container_is_added_changed_retired_and_brought_back_each_with_its_line(box, perpetua, now, today):
    as_it_is = {"name": box.name, "fill_fraction": box.fill_fraction, "reused_glass": False, "usual_parts": 20}
    changed = containers.change_container_kind(
        kind=box, **as_it_is, litres=Decimal("4.8"), position=2, by=perpetua, at=now
    )
    for _twice in range(2):
        containers.retire_container_kind(kind=box, on=today, by=perpetua, at=now)
    retired_on = ContainerKind.objects.get().retired_on
    for _twice in range(2):
        back = containers.bring_back_container_kind(kind=box, by=perpetua, at=now)

    assert (changed.litres, retired_on, back.retired_on) == (Decimal("4.8"), today, None)
    assert [entry.deed for entry in Entry.objects.about(box)] == [
        "container_kind_brought_back",
        "container_kind_retired",
        "container_kind_changed",
        "container_kind_added",
    ]


def test_two_kinds_have_two_names_whatever_the_case(add_kind, box, perpetua, now, today):
    with pytest.raises(KindNameTaken, match="There is a kind called 5 L bag-in-box already"):
        add_kind("5 l BAG-in-box", "5")

    containers.retire_container_kind(kind=box, on=today, by=perpetua, at=now)
    with pytest.raises(KindNameTaken, match=r"retired on Wed 1 Sep 2027\. Bring it back instead"):
        add_kind("5 L bag-in-box", "5")


def test_the_starter_set_comes_once_and_leaves_what_is_there(box, perpetua, now):
    first = containers.add_starter_kinds(by=perpetua, at=now)
    second = containers.add_starter_kinds(by=perpetua, at=now)

    assert (len(first), second) == (5, [])
    assert ContainerKind.objects.get(name=box.name).usual_parts == 20


def test_what_is_not_told_of_a_kind_stays_as_it_was(box, perpetua, now):
    changed = containers.change_container_kind(kind=box, lent=40, by=perpetua, at=now)

    assert (changed.lent, changed.name, changed.usual_parts) == (40, "5 L bag-in-box", 20)


def test_every_kind_of_the_starter_set_may_hold_what_it_usually_holds(perpetua, now):
    for kind in containers.add_starter_kinds(by=perpetua, at=now):
        assert refusals(kind.as_rule, kind.usual_use, heat_c=75) == ()


def test_only_glass_counts_as_re_used_glass(bottle, perpetua, now):
    with pytest.raises(OnlyGlassIsReused, match="Only glass is counted as re-used glass"):
        containers.change_container_kind(kind=bottle, material=MaterialChoice.PET, by=perpetua, at=now)
