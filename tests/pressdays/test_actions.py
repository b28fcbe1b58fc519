"""Plans: each change, each refusal, and what the logbook keeps of it."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings.fruit import change_fruit
from kitshare.bookings.refusals import FruitNotSensible, WeightNotSaid
from kitshare.logbook.models import Entry
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import AtHand, ContainerKind, PlanShare, PressPlan
from kitshare.pressdays.refusals import (
    FruitChangedMeanwhile,
    KindMayNotHold,
    KindRetired,
    KindTwice,
    NotAhead,
    NotTheirsToPlan,
    PlanChangedMeanwhile,
    SharesNotAHundred,
    SortingNotSensible,
    TooManyAtHand,
    YieldNotBelieved,
)
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.rules.containers import Use

pytestmark = pytest.mark.django_db


def shares_of(plan):
    return {share.kind: share.percent for share in plan.shares.all()}


def test_a_plan_is_kept_with_who_and_when_and_the_logbook_says_it_in_words(save, booking, bottle, box, sunniva, now):
    plan = save({bottle: 60, box: 40}, "0.60")

    assert (plan.yield_expected, plan.changed_by, plan.changed_at, plan.revision) == (Decimal("0.60"), sunniva, now, 1)
    assert shares_of(plan) == {bottle: 60, box: 40}
    entry = Entry.objects.about(booking).first()
    assert entry.text == (
        "Planned the press day: 0.6 L/kg; 60 % heated, in 0.75 L glass bottle; 40 % fresh, in 5 L bag-in-box."
    )


def test_a_change_is_written_with_only_what_is_otherwise(save, booking, bottle, box):
    save({bottle: 60, box: 40})

    plan = save({box: 100})

    assert (shares_of(plan), plan.revision, PressPlan.objects.count()) == ({box: 100}, 2, 1)
    assert Entry.objects.about(booking).first().text == (
        "Changed the plan of the press day: 100 % fresh, in 5 L bag-in-box; none heated, in 0.75 L glass bottle."
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
    assert "Saved now: 60 % heated, in 0.75 L glass bottle; 40 % fresh, in 5 L bag-in-box." in str(refused.value)
    assert save({bottle: 50, box: 50}, "0.60", seen_revision=refused.value.plan.revision).revision == 3


def test_without_a_revision_the_last_save_counts(save, bottle, box):
    save({bottle: 100})

    assert shares_of(save({box: 100})) == {box: 100}


def test_a_retired_kind_stays_in_the_plan_that_has_it_and_comes_into_no_other(save, bottle, box, perpetua, now, today):
    save({bottle: 60, box: 40})
    for kind in (bottle, box):
        containers.retire_container_kind(kind=kind, on=today, by=perpetua, at=now)
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


def test_what_is_at_hand_and_the_kind_of_fruit_are_kept_and_told(save, booking, bottle, box):
    save({bottle: 100}, None)

    plan = save({bottle: 100}, None, at_hand={bottle: 120, box: 0}, fruit_word="pears", sorted_out_percent=5)

    assert [(own.kind, own.number) for own in plan.at_hand.all()] == [(bottle, 120)]
    assert (plan.fruit_word, plan.sorted_out_percent, plan.yield_expected) == ("pears", 5, None)
    assert Entry.objects.about(booking).first().text == (
        "Changed the plan of the press day: pears; 5 % sorted out; 120 at hand of 0.75 L glass bottle."
    )


@pytest.mark.parametrize("number", [-1, 20_001])
def test_a_number_at_hand_that_cannot_be_is_refused(save, bottle, number):
    with pytest.raises(TooManyAtHand, match="0 to 20000"):
        save({bottle: 100}, at_hand={bottle: number})


@pytest.mark.parametrize("percent", [-1, 91])
def test_sorting_out_nearly_all_is_refused(save, bottle, percent):
    with pytest.raises(SortingNotSensible, match="From 0 to 90 in a hundred"):
        save({bottle: 100}, sorted_out_percent=percent)


def test_a_kind_that_may_not_hold_the_juice_is_refused_with_the_reason(save, box):
    with pytest.raises(KindMayNotHold) as refused:
        save({(Use.HEATED, box): 100})

    assert str(refused.value) == (
        "5 L bag-in-box may not hold juice that is heated: nobody has said what heat it bears;"
        " it leaves 0 % of room and the juice needs 2.4 %."
    )
    assert not PressPlan.objects.exists()


def test_a_kind_is_judged_by_the_heat_that_the_scheme_recommends(save, box, scheme):
    box.highest_fill_c, box.fill_fraction = Decimal(78), None
    box.save()
    save({(Use.HEATED, box): 100})
    scheme.heat_target_c = Decimal(80)
    scheme.save()

    with pytest.raises(KindMayNotHold, match="it bears 78 °C and the juice will be 80 °C"):
        save({(Use.HEATED, box): 100}, at_hand={box: 2})


def test_the_same_kind_for_the_same_use_twice_is_refused(booking, box, sunniva, now):
    twice = Wanted(parts=(Part(use=Use.FRESH, kind=box, percent=50),) * 2, at_hand={})

    with pytest.raises(KindTwice, match="stands here twice for one use"):
        pressdays.save_plan(booking=booking, wanted=twice, by=sunniva, at=now)


def test_fruit_said_anew_in_the_plan_is_said_of_the_booking(save, booking, box):
    save({box: 100}, fruit=(Decimal(3), "large_tree"), seen_fruit=(Decimal("25.0"), "crate"))

    booking.refresh_from_db()
    assert (booking.fruit_amount, booking.fruit_unit, booking.fruit_kg) == (3, "large_tree", 750)
    assert "Fruit now: 3 large trees." in Entry.objects.about(booking).filter(deed="booking_changed").get().text


def test_fruit_left_as_it_was_seen_leaves_the_booking_alone(save, booking, box):
    save({box: 100}, fruit=(Decimal(25), "crate"), seen_fruit=(Decimal("25.0"), "crate"))

    assert not Entry.objects.about(booking).filter(deed="booking_changed").exists()


def test_fruit_changed_meanwhile_is_not_overwritten_unseen(save, booking, box, perpetua, now):
    change_fruit(booking=booking, fruit_amount=Decimal(20), fruit_unit="sack", by=perpetua, at=now)

    with pytest.raises(FruitChangedMeanwhile, match="changed to 20 sacks"):
        save({box: 100}, fruit=(Decimal(30), "crate"), seen_fruit=(Decimal(25), "crate"))

    assert not PressPlan.objects.exists()


@pytest.mark.parametrize(
    ("amount", "unit", "refusal"),
    [("0", "kg", FruitNotSensible), ("500000", "kg", FruitNotSensible), ("10", "bushel", WeightNotSaid)],
)
def test_fruit_that_cannot_be_is_refused(save, box, amount, unit, refusal):
    with pytest.raises(refusal):
        save({box: 100}, fruit=(Decimal(amount), unit), seen_fruit=(Decimal(25), "crate"))


def test_a_bushel_weighs_what_the_scheme_says(save, booking, box, scheme):
    # Farm and garden rule-book (Bailey): a heaped bushel weighs 39 to 57 lb by variety; 48 lb are 21.8 kg.
    scheme.bushel_kg = Decimal("21.8")
    scheme.save()

    save({box: 100}, fruit=(Decimal(10), "bushel"))

    booking.refresh_from_db()
    assert booking.fruit_kg == 218


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
