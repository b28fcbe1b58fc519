"""A part that two machines share goes with the first, and is never promised to two villages at once."""

import pytest

from kitshare.bookings import days
from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import KitUnfit, MachineTaken
from kitshare.kits import actions as kits
from kitshare.kits.models import Part
from kitshare.rules.checklists import PartKind, Severity
from kitshare.upkeep import actions as upkeep
from tests.bookings.conftest import september
from tests.racing import at_once


@pytest.fixture
def switch(mill, pasteuriser) -> Part:
    """The trip switch of the mill, which the pasteuriser needs too."""
    part = Part.objects.create(machine=mill, name="Trip switch", kind=PartKind.GUARD, position=9)
    part.also_serves.add(pasteuriser)
    return part


@pytest.fixture
def other(fennerlow, leilani):
    return {"village": fennerlow, "borrower": leilani, "by": leilani}


@pytest.mark.django_db
def test_a_machine_is_free_but_the_part_that_it_needs_is_not(ask, other, switch, pasteuriser):
    ask()

    with pytest.raises(MachineTaken) as refused:
        ask(**other, machines=[pasteuriser])

    assert "Trip switch goes with Heron mill, and is with Sorrelhythe from Sat 11 Sep to Mon 13 Sep." in str(
        refused.value
    )
    assert Booking.objects.count() == 1


@pytest.mark.django_db
def test_the_nearest_days_offered_are_free_of_the_part_too(ask, other, switch, pasteuriser):
    ask()

    with pytest.raises(MachineTaken) as refused:
        ask(**other, machines=[pasteuriser])
    for spell in refused.value.nearest:
        days.check_is_free(machines=[pasteuriser], period=spell, today=spell.start)

    assert september(13, 15) in refused.value.nearest  # cleaning the mill keeps nobody from the switch


@pytest.mark.django_db
def test_back_in_the_morning_the_part_goes_out_the_same_day(ask, other, switch, pasteuriser):
    ask()

    booking = ask(**other, machines=[pasteuriser], period=september(13, 15))

    assert booking.pk


@pytest.mark.django_db
def test_both_machines_in_one_booking_share_it(ask, switch, mill, pasteuriser):
    assert ask(machines=[mill, pasteuriser]).pk


@pytest.mark.django_db
@pytest.mark.parametrize("kind", [PartKind.ORDINARY, PartKind.COUNTED, PartKind.CONSUMABLE])
def test_a_part_that_a_machine_may_go_without_keeps_nobody_waiting(ask, other, switch, pasteuriser, kind):
    kits.change_part(part=switch, by=ask().borrower, at=Booking.objects.get().asked_at, kind=kind.value)

    assert ask(**other, machines=[pasteuriser]).pk


@pytest.mark.django_db
def test_moving_onto_days_on_which_the_part_is_away_is_refused(ask, change, other, switch, pasteuriser):
    ask()
    booking = ask(**other, machines=[pasteuriser], period=september(20, 22))

    with pytest.raises(MachineTaken, match="Trip switch"):
        change(booking, period=september(12, 14))


@pytest.mark.django_db
def test_a_fault_of_a_shared_guard_stops_each_machine_that_it_serves(
    ask, other, switch, mill, press, pasteuriser, teodor, now
):
    upkeep.report_fault(machine=mill, part=switch, note="Gone", severity=Severity.STOPS_USE, by=teodor, at=now)

    for machine in (mill, pasteuriser):
        with pytest.raises(KitUnfit):
            ask(machines=[machine])

    assert ask(machines=[press]).pk


@pytest.mark.django_db
def test_a_booking_ahead_is_at_risk_by_a_shared_part(ask, switch, mill, pasteuriser, teodor, now, today):
    booking = ask(machines=[pasteuriser])
    upkeep.report_fault(machine=mill, part=switch, note="Gone", severity=Severity.STOPS_USE, by=teodor, at=now)

    assert list(Booking.objects.at_risk(today)) == [booking]


@pytest.mark.django_db(transaction=True)
@pytest.mark.race
@pytest.mark.parametrize("attempt", range(3))
def test_two_villages_at_once_do_not_both_get_the_part(attempt, ask, other, switch, mill, pasteuriser, season):
    given = at_once(lambda: ask(machines=[mill]), lambda: ask(**other, machines=[pasteuriser]))

    assert sorted(type(answer).__name__ for answer in given) == ["Booking", "MachineTaken"]
    assert Booking.objects.count() == 1
