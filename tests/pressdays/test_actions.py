"""Plans and containers: each change, each refusal, and what the logbook keeps of it."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.logbook.models import Entry
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.models import AtHand, ContainerKind, PlanShare, PressPlan
from kitshare.pressdays.refusals import (
    KindNameTaken,
    KindRetired,
    NotAhead,
    NotTheirsToPlan,
    PlanChangedMeanwhile,
    SharesNotAHundred,
    YieldNotBelieved,
)

pytestmark = pytest.mark.django_db


def shares_of(plan):
    return {share.kind: share.percent for share in plan.shares.all()}


def test_a_plan_is_kept_with_who_and_when_and_the_logbook_says_it_in_words(save, booking, bottle, box, sunniva, now):
    plan = save({bottle: 60, box: 40}, "0.60")

    assert (plan.yield_expected, plan.changed_by, plan.changed_at, plan.revision) == (Decimal("0.60"), sunniva, now, 1)
    assert shares_of(plan) == {bottle: 60, box: 40}
    entry = Entry.objects.about(booking).first()
    assert entry.text == "Planned the press day: 0.6 L/kg, 60 % in 0.75 L glass bottle, 40 % in 5 L bag-in-box."


def test_a_change_is_written_with_only_what_is_otherwise(save, booking, bottle, box):
    save({bottle: 60, box: 40})

    plan = save({box: 100})

    assert (shares_of(plan), plan.revision, PressPlan.objects.count()) == ({box: 100}, 2, 1)
    assert Entry.objects.about(booking).first().text == (
        "Changed the plan of the press day: 100 % in 5 L bag-in-box, none in 0.75 L glass bottle."
    )


def test_the_same_plan_twice_is_one_save(save, booking, bottle, box):
    save({bottle: 60, box: 40}, seen_revision=0)
    lines = Entry.objects.about(booking).count()

    again = save({box: 40, bottle: 60}, seen_revision=0)

    assert again.revision == 1
    assert Entry.objects.about(booking).count() == lines


def test_a_share_of_nothing_is_no_share(save, bottle, box):
    assert shares_of(save({bottle: 0, box: 100})) == {box: 100}


@pytest.mark.parametrize(
    ("bottles", "boxes", "total", "words"),
    [
        (60, 25, 85, "15 more parts in a hundred to share out."),
        (60, 39, 99, "1 more part in a hundred to share out."),
        (60, 50, 110, "10 parts in a hundred too many: take some away."),
        (120, -20, 100, "All of the juice is shared out."),
        (0, 0, 0, "100 more parts in a hundred to share out."),
    ],
)
def test_shares_that_are_not_a_hundred_are_refused(save, bottle, box, bottles, boxes, total, words):
    with pytest.raises(SharesNotAHundred) as refused:
        save({bottle: bottles, box: boxes})

    assert (refused.value.total, str(refused.value)) == (total, words)
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize("its_yield", ["0", "-0.5", "0.199", "0.851", "3", "NaN", "Infinity"])
def test_a_yield_that_no_fruit_gives_is_refused(save, box, its_yield):
    with pytest.raises(YieldNotBelieved, match=r"between 0\.20 and 0\.85"):
        save({box: 100}, its_yield)


@pytest.mark.parametrize("its_yield", ["0.2", "0.85"])
def test_the_bounds_of_a_yield_are_themselves_allowed(save, box, its_yield):
    assert save({box: 100}, its_yield).yield_expected == Decimal(its_yield)


def test_a_plan_changed_meanwhile_is_not_overwritten_unseen(save, bottle, box, perpetua):
    save({bottle: 100}, seen_revision=0)
    save({bottle: 60, box: 40}, "0.60", seen_revision=1, by=perpetua)

    with pytest.raises(PlanChangedMeanwhile) as refused:
        save({bottle: 50, box: 50}, "0.60", seen_revision=1)

    assert "Perpetua Quillstone saved another plan" in str(refused.value)
    assert "Saved now: 60 % in 0.75 L glass bottle, 40 % in 5 L bag-in-box." in str(refused.value)
    assert save({bottle: 50, box: 50}, "0.60", seen_revision=refused.value.plan.revision).revision == 3


def test_without_a_revision_the_last_save_counts(save, bottle, box):
    save({bottle: 100})

    assert shares_of(save({box: 100})) == {box: 100}


def test_a_retired_kind_stays_in_the_plan_that_has_it_and_comes_into_no_other(save, bottle, box, perpetua, now, today):
    save({bottle: 60, box: 40})
    for kind in (bottle, box):
        pressdays.retire_container_kind(kind=kind, on=today, by=perpetua, at=now)
    retired = ContainerKind.objects.get(pk=box.pk)

    kept = save({retired: 100})

    assert shares_of(kept) == {retired: 100}
    with pytest.raises(KindRetired, match=r"0\.75 L glass bottle is no longer in use"):
        save({ContainerKind.objects.get(pk=bottle.pk): 100})


@pytest.mark.parametrize("who", ["leilani", "teodor"])
def test_only_the_village_and_the_coordinator_plan(save, box, fennerlow, who, request):
    with pytest.raises(NotTheirsToPlan, match="those who sign for Sorrelhythe"):
        save({box: 100}, by=request.getfixturevalue(who))


def test_the_coordinator_plans_for_any_village(save, box, perpetua):
    assert save({box: 100}, by=perpetua).changed_by == perpetua


def test_a_booking_that_is_called_off_keeps_its_plan_as_it_is(save, box, call_off):
    call_off()

    with pytest.raises(NotAhead, match="This booking is called off"):
        save({box: 100})


def test_a_kind_of_container_is_added_changed_retired_and_brought_back_each_with_its_line(box, perpetua, now, today):
    as_it_is = {"name": box.name, "fill_fraction": box.fill_fraction, "reused_glass": False, "usual_parts": 20}
    changed = pressdays.change_container_kind(
        kind=box, **as_it_is, litres=Decimal("4.8"), position=2, by=perpetua, at=now
    )
    for _twice in range(2):
        pressdays.retire_container_kind(kind=box, on=today, by=perpetua, at=now)
    retired_on = ContainerKind.objects.get().retired_on
    for _twice in range(2):
        back = pressdays.bring_back_container_kind(kind=box, by=perpetua, at=now)

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

    pressdays.retire_container_kind(kind=box, on=today, by=perpetua, at=now)
    with pytest.raises(KindNameTaken, match=r"retired on Wed 1 Sep 2027\. Bring it back instead"):
        add_kind("5 L bag-in-box", "5")


def test_the_starter_set_comes_once_and_leaves_what_is_there(box, perpetua, now):
    first = pressdays.add_starter_kinds(by=perpetua, at=now)
    second = pressdays.add_starter_kinds(by=perpetua, at=now)

    assert (len(first), second) == (5, [])
    assert ContainerKind.objects.get(name=box.name).usual_parts == 20


@pytest.mark.parametrize(
    ("name", "break_it"),
    [
        ("planned_yield_is_believable", lambda plan, kind: PressPlan.objects.update(yield_expected=Decimal("0.9"))),
        (
            "plan_share_is_some_parts_of_a_hundred",
            lambda plan, kind: PlanShare.objects.update(percent=101),
        ),
        (
            "container_kind_volume_is_believable",
            lambda plan, kind: ContainerKind.objects.update(litres=Decimal("1200.01")),
        ),
        (
            "container_kind_is_filled_in_part",
            lambda plan, kind: ContainerKind.objects.update(fill_fraction=Decimal("1.001")),
        ),
        ("container_kind_travels_in_crates", lambda plan, kind: ContainerKind.objects.update(per_crate=0)),
        ("planned_sorting_leaves_some_fruit", lambda plan, kind: PressPlan.objects.update(sorted_out_percent=91)),
        ("some_containers_are_at_hand", lambda plan, kind: AtHand.objects.create(plan=plan, kind=kind, number=0)),
    ],
)
def test_the_database_itself_holds_the_promise(save, box, name, break_it):
    plan = save({box: 100})

    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        break_it(plan, box)


def test_the_database_itself_holds_one_share_a_kind_and_one_name_a_kind(save, box):
    plan = save({box: 100})

    with pytest.raises(IntegrityError), transaction.atomic():
        PlanShare.objects.create(plan=plan, kind=box, use=box.usual_use, percent=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        ContainerKind.objects.create(name="5 L BAG-in-box", litres=5)
