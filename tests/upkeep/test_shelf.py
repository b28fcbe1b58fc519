"""The shelf: what comes and goes sums to what lies there, which is never less than nothing."""

import uuid
from datetime import date, timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kitshare.kits.models import Depot, Part
from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.people.models import Scheme
from kitshare.rules import stocking
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import shelf, shelf_things
from kitshare.upkeep.shelf import Used
from kitshare.upkeep.shelf_models import Reason, ShelfMovement, ShelfPlace, ShelfThing
from kitshare.upkeep.shelf_needs import standings
from kitshare.upkeep.shelf_refusals import (
    NameOnShelfTaken,
    NotOnShelves,
    NotTheirs,
    PartNamedWrongly,
    ShelfChangedMeanwhile,
    ShelfRefused,
    SparesCountedAlready,
    StillOnShelf,
    TooFewOnShelf,
)
from tests.racing import at_once

DAY = timedelta(days=1)


@pytest.fixture
def who(teodor, now):
    return {"by": teodor, "at": now}


@pytest.fixture
def barn(scheme) -> Depot:
    return Depot.objects.create(name="Tithe Barn, Fennerlow")


@pytest.fixture
def add(depot, who):
    def add_it(**changes: object) -> ShelfThing:
        facts = {"name": "Sanitiser", "kind": "consumable", "part": None, "unit": "sachet", "lead_days": 14}
        return shelf_things.add_thing(**({"depot": depot, "count": 5} | facts | who | changes))

    return add_it


def there(thing: ShelfThing) -> dict[str, int]:
    places = ShelfPlace.objects.filter(thing=thing).select_related("depot").counted()
    return {place.depot.name: place.count for place in places}


MOVES = st.tuples(st.sampled_from(["in", "out", "count", "move"]), st.booleans(), st.integers(min_value=0, max_value=6))


@given(moves=st.lists(MOVES, max_size=10))
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_ledger_sums_to_the_shelf_and_never_goes_under_nothing(add, who, depot, barn, moves):
    with transaction.atomic():
        thing, expected = add(count=2), {depot: 2, barn: 0}
        for kind, is_barn, count in moves:
            here, other = (barn, depot) if is_barn else (depot, barn)
            facts = {"thing": thing, "depot": here, "count": count, "note": ""} | who
            try:
                if kind == "in":
                    shelf.put_in(**facts)
                elif kind == "out":
                    shelf.take_out(reason=Reason.LOST, **facts)
                elif kind == "count":
                    shelf.count_shelf(**facts)
                else:
                    shelf.move_to(to=other, **facts)
            except ShelfRefused:
                assert count == 0 or count > expected[here]
                continue
            gone = {"in": count, "out": -count, "count": count - expected[here], "move": -count}[kind]
            expected[here] += gone
            expected[other] -= gone if kind == "move" else 0

        lines = list(ShelfMovement.objects.order_by("place", "number"))
        for place in ShelfPlace.objects.counted():
            own = [line for line in lines if line.place_id == place.pk]
            assert [line.number for line in own] == list(range(1, len(own) + 1))
            assert [line.before for line in own] == [0, *(line.balance for line in own[:-1])]
            assert sum(line.change for line in own) == place.count == expected[place.depot] >= 0
        transaction.set_rollback(True)


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("shelf_never_under_nothing", {"before": 1, "change": -2, "balance": -1}),
        ("shelf_movement_adds_up", {"before": 5, "change": -2, "balance": 4}),
        ("shelf_movements_in_a_row", {"number": 1, "before": 0, "change": 0, "balance": 0, "reason": "counted"}),
        ("shelf_begins_with_nothing", {"number": 0}),
        ("shelf_reason_fits_the_change", {"reason": "delivered"}),
    ],
)
def test_the_database_itself_refuses_a_line_that_cannot_be(add, who, promise, changes):
    place = add().places.get()
    facts = {"number": 2, "reason": "lost", "before": 5, "change": -2, "balance": 3}

    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        ShelfMovement(place=place, **(facts | who | changes)).save()

    said = str(caught.value)  # a negative balance may meet the column's own bound first
    assert promise in said or "balance" in said or (connection.vendor == "sqlite" and "UNIQUE" in said)


def test_a_line_is_never_changed_or_taken_away(add):
    line = add().places.get().movements.get()

    for spoil in (line.save, line.delete, ShelfMovement.objects.all().delete):
        with pytest.raises(TypeError, match="only ever added to"):
            spoil()


def test_what_was_sent_twice_moves_once_and_too_few_are_refused_in_words(add, who, depot, barn, drive_pin):
    thing, key = add(), uuid.uuid4()
    facts = {"thing": thing, "depot": depot, "note": " For Sorrelhythe. "} | who

    for _time in range(2):
        shelf.take_out(count=3, reason=Reason.GIVEN, form_key=key, **facts)
        shelf.move_to(count=1, to=barn, form_key=key, **facts)
    with pytest.raises(TooFewOnShelf, match="Only 1 of Sanitiser is on the shelf at Old Goods Shed"):
        shelf.take_out(count=2, reason=Reason.LOST, **facts)

    assert there(thing) == {depot.name: 1, barn.name: 1}
    lines = Entry.objects.about(thing).values_list("text", flat=True)
    assert (
        "Sanitiser at Old Goods Shed, Withyhurn: 3 out, given to a booking; 2 left on the shelf. For Sorrelhythe."
        in lines
    )


def test_who_counts_an_older_shelf_counts_once_more(add, who, depot):
    thing = add()
    seen = ShelfMovement.objects.get().pk
    shelf.take_out(thing=thing, depot=depot, count=2, reason=Reason.LOST, note="", **who)
    facts = {"thing": thing, "depot": depot, "note": ""} | who

    with pytest.raises(ShelfChangedMeanwhile, match="Teodor Haskerby: −2, lost"):
        shelf.count_shelf(count=5, seen=seen, **facts)
    shelf.count_shelf(count=4, seen=ShelfMovement.objects.last().pk, was_wrong=True, **facts)

    assert there(thing) == {depot.name: 4}
    assert ShelfMovement.objects.last().reason == Reason.PUT_RIGHT


def test_things_are_told_apart_and_only_an_empty_one_is_retired(add, who, depot, today, sunniva, drive_pin):
    thing = add()
    pins = add(name="Pins", kind="spare", part=drive_pin)
    with pytest.raises(NameOnShelfTaken):
        add(name="SANITISER")
    with pytest.raises(SparesCountedAlready):
        add(name="More pins", kind="spare", part=drive_pin)
    with pytest.raises(PartNamedWrongly):
        shelf_things.change_thing(thing=pins, part=None, **who)
    with pytest.raises(NotTheirs):
        shelf_things.retire_thing(thing=thing, today=today, by=sunniva, at=who["at"])
    with pytest.raises(StillOnShelf, match=r"5 \(Old Goods Shed"):
        shelf_things.retire_thing(thing=thing, today=today, **who)

    shelf.count_shelf(thing=thing, depot=depot, count=0, note="", **who)
    shelf_things.retire_thing(thing=thing, today=today, **who)

    with pytest.raises(NotOnShelves):
        shelf.put_in(thing=thing, depot=depot, count=1, note="", **who)
    add()
    with pytest.raises(NameOnShelfTaken):
        shelf_things.bring_back_thing(thing=thing, **who)


def test_a_form_that_lay_open_says_what_changed(add, who):
    thing = add()
    seen = newest_line(thing)
    shelf_things.change_thing(thing=thing, lead_days=3, seen=seen, **who)

    with pytest.raises(ChangedMeanwhile, match="days until a delivery comes"):
        shelf_things.change_thing(thing=thing, lead_days=9, seen=seen, **who)


def test_spares_put_in_at_a_handover_come_off_the_shelf_as_far_as_they_are_counted(who, drive_pin, guard, spare_pin):
    part = Part.objects.select_related("machine__kit").get(pk=drive_pin.pk)

    taken = [shelf.fit_spare(part=part, count=count, **who) for count in (2, 1)]

    assert taken == [1, 0]
    assert there(spare_pin.thing) == {spare_pin.depot.name: 0}
    said = list(Entry.objects.about(part).values_list("text", flat=True)[:2])
    assert "though by the count there was none on the shelf" in said[0]
    assert "though by the count only 1 were there" in said[1]


def test_the_numbers_that_parts_had_become_first_counts(drive_pin, guard, lead, depot, spare_pin):
    Part.objects.filter(pk=drive_pin.pk).update(spares_held=9)  # counted on the shelf already
    Part.objects.filter(pk=guard.pk).update(spares_held=3)
    twin = Part.objects.create(machine=guard.machine, name=guard.name, retired_on=date(2027, 1, 1), spares_held=2)

    import_module("kitshare.upkeep.migrations.0009_spares_counted").count(apps, None)

    assert ShelfPlace.objects.spares_of([drive_pin, guard, lead, twin]) == {drive_pin.pk: 1, guard.pk: 3, twin.pk: 2}
    first = ShelfMovement.objects.get(place__thing__part=guard)
    assert (first.reason, first.number, first.change, first.by) == ("counted", 1, 3, None)


def test_least_counts_are_learned_from_what_was_used_up(add, who, depot, now, today, django_assert_num_queries):
    seasons = [Period(start=today - 300 * DAY, end=today - 200 * DAY), Period(start=today, end=today + 100 * DAY)]
    began = {"by": who["by"], "at": now - 320 * DAY}
    thing, quiet = add(count=40, **began), add(name="Grease", count=1, **began)
    facts = {"thing": thing, "depot": depot, "note": "", "by": who["by"]}
    shelf.take_out(count=30, reason=Reason.LOST, at=now - 310 * DAY, **facts)  # before any season: teaches nothing
    shelf.take_out(count=4, reason=Reason.GIVEN, at=now - 250 * DAY, **facts)
    shelf.count_shelf(count=3, at=now - 100 * DAY, **facts)
    shelf.count_shelf(count=2, was_wrong=True, at=now, **facts)
    shelf_things.set_least(thing=quiet, depot=depot, least_count=2, **who)

    with django_assert_num_queries(3):
        found = standings(
            ShelfPlace.objects.by_depot().select_related("thing", "depot").counted(),
            seasons=seasons,
            one_in=20,
            today=today,
        )

    own, learned = found
    belief = stocking.PRIOR.learned(used=7, seasons=1.01)
    assert (learned.count, learned.used, round(learned.seasons, 2)) == (2, 7, 1.01)
    assert learned.keep.count == stocking.keep(belief, horizon=1.14, chance=0.05).count == 11
    assert learned.to_get == learned.keep.count - 2
    assert learned.proposal == f"keep {learned.keep.count}: one season in {learned.keep.one_season_in} would need more"
    assert learned.rests_on == "7 used in 1 season"
    assert (own.is_own, own.least, own.to_get, own.used) == (True, 2, 1, 0)


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_of_two_who_take_the_last_one_gets_it(add, who, depot):
    thing = add(count=1)

    def take():
        return shelf.take_out(thing=thing, depot=depot, count=1, reason=Reason.WORN_OUT, note="", **who)

    answers = at_once(take, take)

    assert sorted(type(answer).__name__ for answer in answers) == ["ShelfMovement", "TooFewOnShelf"]
    assert there(thing) == {depot.name: 0}


def test_a_mending_takes_what_it_used_off_the_shelf_or_is_not_recorded(add, who, depot, mill, drive_pin, spare_pin):
    fault = upkeep.report_fault(machine=mill, part=drive_pin, note="Bent.", severity=Severity.STOPS_USE, **who)
    grease = add(name="Grease", count=2).places.get()
    used = [Used(place=grease, count=1), Used(place=spare_pin, count=2)]
    facts = {"fault": fault, "note": "New pin.", "revision": fault.revision} | who

    with pytest.raises(TooFewOnShelf, match="Only 1 of Drive pin, Heron mill"):
        upkeep.mend_fault(used=used, **facts)
    fault.refresh_from_db()
    assert (fault.stage, there(grease.thing)) == ("reported", {depot.name: 2})
    for _time in range(2):
        upkeep.mend_fault(used=[used[0], Used(place=spare_pin, count=1)], **facts)

    went = fault.used.order_by("pk").values_list("place__thing__name", "reason", "balance")
    assert list(went) == [("Drive pin, Heron mill", "mending", 0), ("Grease", "mending", 1)]
    assert Entry.objects.about(fault).filter(deed="shelf_mending").count() == 2


def test_the_database_itself_refuses_what_no_shelf_can_have(add, depot, drive_pin, scheme):
    thing = add()
    place = thing.places.get()
    things, places = ShelfThing.objects.filter(pk=thing.pk), ShelfPlace.objects.filter(pk=place.pk)
    pins = add(name="Pins", kind="spare", part=drive_pin)
    writes = {
        "shelf_thing_once_a_depot": lambda: ShelfPlace.objects.create(thing=thing, depot=depot),
        "shelf_least_count_sensible": lambda: places.update(least_count=10_001),
        "spare_names_its_part": lambda: things.update(kind="spare"),
        "spares_of_a_part_counted_once": lambda: things.update(kind="spare", part=pins.part),
        "shelf_delivery_within_two_years": lambda: things.update(lead_days=731),
        "shelf_name_used_once": lambda: ShelfThing.objects.create(name="SANITISER", unit="box"),
        "shelf_runs_out_sometimes": lambda: Scheme.objects.update(shortage_one_in=1),
    }

    for promise, write in writes.items():
        with pytest.raises(IntegrityError) as caught, transaction.atomic():
            write()
        said = str(caught.value)
        assert promise in said or (connection.vendor == "sqlite" and "UNIQUE" in said)
