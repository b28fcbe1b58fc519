"""The hands and hours of a press day: what is usual, what is refused, what is kept; and the day they give."""

from dataclasses import replace
from datetime import time, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.kits.models import Machine, MachineKind
from kitshare.logbook.models import Entry
from kitshare.pressdays import clock
from kitshare.pressdays.clock import Hours
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.pressdays.day_clock import bath_of, clock_of, machines_of
from kitshare.pressdays.planning import ahead_of
from kitshare.rules.pressday import Station
from kitshare.rules.yard import USUAL_HEATER

HOURS = Hours(helpers=6, starts_at=time(9), ends_at=time(18))


@pytest.fixture
def save_hours(booking, sunniva, now):
    def save_hours(hours=HOURS, **changes):
        return clock.save_hours(**{"booking": booking, "hours": hours, "by": sunniva, "at": now} | changes)

    return save_hours


@pytest.fixture
def clock_with(booking, scheme, bottle):
    """The clock of 400 kg, all of it heated in bottles, with some machines and hours."""

    def clock_with(*machines, **hours):
        booking.machines.set(machines)
        return clock_of(ahead_of(booking, scheme=scheme), replace(HOURS, **hours), machines_of(booking))

    return clock_with


def test_hours_are_kept_written_down_and_kept_once(save_hours, booking):
    saved = save_hours()
    again = save_hours()

    assert (saved.revision, again.revision) == (1, 1)
    assert clock.hours_of(booking)[0] == HOURS
    line = Entry.objects.about(booking).first()
    assert line.text == "Planned hands and hours of the press day: helpers: 6, from 09:00 to 18:00."


@pytest.mark.parametrize("helpers", [0, 201, 10_000])
def test_no_helper_and_a_thousand_are_refused(save_hours, helpers):
    with pytest.raises(clock.TooManyOrNone):
        save_hours(replace(HOURS, helpers=helpers))
    assert not ClockPlan.objects.exists()


@pytest.mark.parametrize("ends_at", [time(9), time(8, 59), time(0)])
def test_a_day_that_ends_before_it_starts_is_refused(save_hours, ends_at):
    with pytest.raises(clock.EndsBeforeItStarts):
        save_hours(replace(HOURS, ends_at=ends_at))


def test_of_two_tabs_the_second_hears_of_the_first(save_hours):
    save_hours()

    with pytest.raises(clock.ClockChangedMeanwhile, match="helpers: 6, from 09:00 to 18:00"):
        save_hours(replace(HOURS, helpers=9), seen_revision=0)
    assert save_hours(replace(HOURS, helpers=9), seen_revision=1).revision == 2


def test_who_signs_and_who_coordinates_change_hours_and_nobody_else(booking, sunniva, perpetua, leilani, teodor):
    assert [clock.why_not_change(booking=booking, by=who) for who in (sunniva, perpetua)] == ["", ""]
    for who in (leilani, teodor):
        with pytest.raises(clock.NotTheirClock):
            clock.check_can_change(booking=booking, by=who)


def test_hours_of_a_booking_that_is_off_stay(booking, sunniva, call_off):
    with pytest.raises(clock.DayIsOver, match="called off"):
        clock.check_can_change(booking=call_off(), by=sunniva)


def test_hours_may_change_while_the_kit_is_out(out_booking, sunniva):
    assert clock.why_not_change(booking=out_booking, by=sunniva) == ""


def test_press_day_has_some_helpers(save_hours):
    saved = save_hours()
    for helpers in (0, 201):
        with pytest.raises(IntegrityError), transaction.atomic():
            ClockPlan.objects.filter(pk=saved.pk).update(helpers=helpers)


def test_press_day_ends_after_it_starts(save_hours):
    saved = save_hours()

    with pytest.raises(IntegrityError), transaction.atomic():
        ClockPlan.objects.filter(pk=saved.pk).update(ends_at=time(9))


@pytest.mark.parametrize(
    ("nights", "collected", "start", "end"),
    [
        (1, time(10), time(10), time(18)),
        (1, time(7), time(9), time(18)),
        (2, time(15), time(9), time(18)),
        (1, time(18, 30), time(18, 30), time(23, 59)),
        (1, time(23, 50), time(22), time(23, 59)),
    ],
)
def test_the_usual_day_fits_the_booking(booking, nights, collected, start, end):
    booking.back_on, booking.out_time = booking.out_on + timedelta(days=nights), collected

    usual = clock.usual_hours(booking)

    assert (usual.helpers, usual.starts_at, usual.ends_at) == (6, start, end)


def test_the_machines_own_figures_make_the_day(clock_with, mill, press, pasteuriser):
    usual = clock_with(mill, press, pasteuriser)
    Machine.objects.filter(pk=press.pk).update(kg_per_hour=60, cheese_kg=Decimal(25))
    slow = clock_with(mill, press, pasteuriser)

    assert len([bar for bar in usual.plan.bars if bar.station is Station.PRESS]) == 10
    assert len([bar for bar in slow.plan.bars if bar.station is Station.PRESS]) == 16
    assert slow.plan.pressed_at > usual.plan.pressed_at + 120
    assert [machine for machine, _names in usual.as_usual] == [mill, press, pasteuriser]
    assert [machine for machine, _names in slow.as_usual] == [mill, pasteuriser]


@pytest.mark.parametrize(
    ("there", "missing", "stations"),
    [
        ({"mill"}, {"press", "pasteuriser"}, {"wash", "mill", "clean"}),
        ({"press"}, {"mill", "pasteuriser"}, {"wash", "press", "fill", "clean"}),
        ({"pasteuriser"}, {"mill", "press"}, {"fill", "heat", "clean"}),
        ({"mill", "press"}, {"pasteuriser"}, {"wash", "mill", "press", "fill", "clean"}),
    ],
)
def test_a_clock_of_what_is_booked_says_what_is_missing(clock_with, mill, press, pasteuriser, there, missing, stations):
    found = clock_with(*[machine for machine in (mill, press, pasteuriser) if machine.kind in there])

    assert set(found.missing) == missing
    assert {bar.station for bar in found.plan.bars} == stations


def test_without_a_machine_there_is_no_clock(clock_with, heron):
    trailer = Machine.objects.create(kit=heron, name="Trailer", kind=MachineKind.OTHER)

    found = clock_with(trailer)

    assert found.plan is None
    assert found.over is None
    assert len(found.missing) == 3


def test_one_more_pasteuriser_ends_the_day_sooner(clock_with, mill, press, pasteuriser):
    one, two = (clock_with(mill, press, pasteuriser, one_more_bath=more) for more in (False, True))

    assert two.plan.given.heat.pasteurisers == 2
    assert two.plan.finish < one.plan.finish


def test_a_pasteuriser_too_weak_is_left_out_and_says_how_far_it_gets(clock_with, mill, press, pasteuriser):
    Machine.objects.filter(pk=pasteuriser.pk).update(power_watts=900, loss_w_per_k=Decimal(20))
    found = clock_with(mill, press, pasteuriser)

    assert found.plan.given.heat is None
    assert found.baths[0].stops_at_c == pytest.approx(60)


def test_glass_and_bags_are_heated_each_by_itself_and_only_glass_waits_for_a_cooler_bath(
    clock_with, mill, press, pasteuriser, add_kind, bottle
):
    add_kind("5 L bag", "5", material="film", highest_fill_c=Decimal(85), fill_fraction=Decimal("0.96"), usual_parts=60)
    mixed = clock_with(mill, press, pasteuriser)
    bottle.retired_on = mixed.booking.out_on
    bottle.save()
    bags = clock_with(mill, press, pasteuriser)

    assert not mixed.heats_one_kind
    assert bags.heats_one_kind
    assert [kind.litres for kind in mixed.heated] == [5, Decimal("0.75")]
    assert [plan.batches.cool_bath_first for plan in mixed.baths[0].plans] == [False, True]
    assert [plan.batches.cool_bath_first for plan in bags.baths[0].plans] == [False]
    bars = [(bar.kind, bar.containers) for bar in mixed.plan.heated]
    large, small = (kind.key for kind in mixed.heated)
    # 220 litres as 30 bags of 4.8 and 195 bottles of 0.72 would hold 140 of either; 10 and 72 in a rack.
    assert bars == [(large, 10), (large, 10), (large, 4), (small, 72), (small, 72), (small, 7)]
    assert sum(bar.amount for bar in mixed.plan.heated) == pytest.approx(220, abs=1e-4)


def test_a_pasteuriser_without_watts_is_the_usual_one(pasteuriser):
    pasteuriser.power_watts = 0

    assert bath_of(pasteuriser).heater == USUAL_HEATER


def test_more_fruit_never_ends_sooner_and_more_helpers_never_later(clock_with, booking, mill, press, pasteuriser):
    ends = []
    for kg in (100, 400, 700, 1300):
        booking.fruit_kg = Decimal(kg)
        ends.append([clock_with(mill, press, pasteuriser, helpers=helpers).plan.finish for helpers in (1, 3, 6, 12)])

    assert all(row == sorted(row, reverse=True) for row in ends)
    assert all(list(column) == sorted(column) for column in zip(*ends, strict=True))


def test_twenty_tonnes_for_a_small_press_are_still_planned(clock_with, booking, press):
    booking.fruit_kg = Decimal(20_000)
    Machine.objects.filter(pk=press.pk).update(kg_per_hour=50, cheese_kg=Decimal(5))

    found = clock_with(press, helpers=1)

    assert len(found.plan.given.cheeses) == 1000
    assert found.over.minutes_over > 10_000
