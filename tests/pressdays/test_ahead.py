"""The day ahead of a booking: its juice, and containers for all of it."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kitshare.bookings.models import Booking
from kitshare.people.models import Scheme
from kitshare.pressdays.learning import Lessons
from kitshare.pressdays.models import AtHand, ContainerKind
from kitshare.pressdays.planning import ahead_of
from kitshare.pressdays.wanted import Part, Wanted, wanted_for
from kitshare.rules.containers import RefusalCode, Use
from kitshare.rules.yields import PUBLISHED, Evidence

GLASS = {"material": "glass"}


def wanted(*parts, at_hand=None, **facts):
    return Wanted(
        parts=tuple(Part(use=use, kind=kind, percent=percent) for use, kind, percent in parts),
        at_hand=at_hand or {},
        **facts,
    )


@pytest.fixture
def jar(add_kind):
    return add_kind("1 L jar", "1", fill_fraction=None, **GLASS)


@pytest.fixture
def can(add_kind):
    return add_kind("10 L can", "10", fill_fraction=None, material="hdpe")


@pytest.fixture
def ahead(booking, scheme):
    def ahead(*parts, **facts):
        return ahead_of(booking, scheme=scheme, wanted=wanted(*parts, **facts))

    return ahead


pytestmark = pytest.mark.django_db


def test_the_juice_is_the_forecast_of_what_is_pressed_nine_days_in_ten(ahead, jar):
    found = ahead((Use.HEATED, jar, 100), sorted_out_percent=10)

    # Oracle: scipy's Student t, with the published belief; 400 kg less ten in a hundred.
    low, high = stats.t.interval(0.9, PUBLISHED.freedom, PUBLISHED.mean, PUBLISHED.spread)
    assert (found.fruit.picked_kg, found.pressed_kg) == (400, 360)
    assert (found.juice.low, found.juice.high) == (pytest.approx(360 * low), pytest.approx(360 * high))
    assert (found.juice.probability, found.juice.days) == (0.9, 0)


def test_recorded_days_teach_the_forecast(booking, scheme, jar, record_day):
    record_day(pressed_kg=Decimal(400), litres_fresh=Decimal(200), litres_heated=Decimal(0))

    found = ahead_of(booking, scheme=scheme, wanted=wanted((Use.HEATED, jar, 100)))

    # Two days' weight for the published 0.55, one for the 0.5 that was seen.
    assert (found.juice.days, len(found.evidence.days)) == (1, 1)
    assert found.juice.expected == pytest.approx(400 * (2 * 0.55 + 0.5) / 3)


def test_a_villages_own_yield_moves_the_forecast_and_not_its_width(ahead, jar):
    usual, own = ahead((Use.HEATED, jar, 100)), ahead((Use.HEATED, jar, 100), yield_expected=Decimal("0.5"))

    assert own.juice.expected == pytest.approx(200)
    assert own.juice.high - own.juice.low == pytest.approx(usual.juice.high - usual.juice.low)


def test_the_least_number_is_got_and_what_is_at_hand_goes_where_nothing_else_may(ahead, jar, can):
    # 280 litres at the most: 140 heated, which only jars bear (0.96 in each), and 140 fresh, 9.8 in a can.
    parts = (Use.HEATED, jar, 50), (Use.FRESH, can, 50)

    found = ahead(*parts, at_hand={jar: 100, can: 20})

    assert found.most_litres[Use.HEATED] == pytest.approx(Decimal(140), abs=Decimal("0.001"))
    assert {(f.use, f.kind.key, f.at_hand, f.to_get) for f in found.fillings} == {
        (Use.HEATED, str(jar.pk), 100, 46),
        (Use.FRESH, str(can.pk), 15, 0),
    }
    assert [(one.own, one.borrowed, one.bought) for one in found.to_bring] == [(100, 0, 46), (15, 0, 0)]
    assert found.least_proved


def test_what_the_scheme_lends_is_borrowed_before_any_is_bought(ahead, jar):
    jar.lent = 30

    found = ahead((Use.HEATED, jar, 100), at_hand={jar: 250})

    # 280 litres in jars of 0.96: 292.
    assert [(one.own, one.borrowed, one.bought) for one in found.to_bring] == [(250, 30, 12)]


def test_re_used_glass_has_spares_caps_and_crates(ahead, bottle):
    bottle.per_crate, bottle.tare_kg = 12, Decimal("0.5")

    (found,) = ahead((Use.HEATED, bottle, 100)).to_bring

    # 280 / (0.75 x 0.96) = 388.9; one in twenty more; caps likewise; a crate holds twelve.
    assert (found.filled, found.number, found.caps, found.crates) == (389, 409, 409, 35)
    assert found.full_kg == pytest.approx(Decimal(389) * (Decimal("0.5") + Decimal("0.72") * Decimal("1.0465")))


def test_a_kind_that_may_not_hold_its_juice_is_told_and_not_counted(ahead, jar, can):
    found = ahead((Use.HEATED, can, 50), (Use.FRESH, jar, 50))

    assert [(one.part.kind, one.part.use, one.reasons[0].code) for one in found.refused] == [
        (can, Use.HEATED, RefusalCode.LIMIT_UNDER_HEAT)
    ]
    assert {f.use for f in found.fillings} == {Use.FRESH}


def test_what_nobody_knows_of_a_kind_refuses_it_for_heat_alone(ahead, add_kind):
    unknown = add_kind("Old jug", "5", fill_fraction=None)

    heated, fresh = ahead((Use.HEATED, unknown, 100)), ahead((Use.FRESH, unknown, 100))

    assert [reason.code for one in heated.refused for reason in one.reasons] == [RefusalCode.LIMIT_UNKNOWN]
    assert (fresh.refused, len(fresh.to_bring)) == ((), 1)


def test_the_hold_is_the_one_that_the_scheme_recommends(booking, scheme, jar):
    scheme.heat_target_c, scheme.heat_hold_minutes, scheme.heat_source = Decimal(80), Decimal(15), "a handbook"

    found = ahead_of(booking, scheme=scheme, wanted=wanted((Use.HEATED, jar, 100)))

    assert (found.heat.target_c, found.heat.hold_minutes, found.heat.source) == (80, 15, "a handbook")


def test_two_kinds_for_one_use_keep_their_own_shares(ahead, jar, can):
    found = ahead((Use.FRESH, jar, 25), (Use.FRESH, can, 75))

    # 70 litres in jars of 0.98, 210 in cans of 9.8.
    assert {one.kind: one.number for one in found.to_bring} == {jar: 72, can: 22}


def test_many_wishes_are_each_worked_out_by_themselves(ahead, add_kind):
    kinds = [add_kind(f"kind {number}", "5", **GLASS) for number in range(8)]

    found = ahead(*((Use.FRESH, kind, 12) for kind in kinds), at_hand={kinds[0]: 3, kinds[1]: 90})

    # 33.6 litres each, filled full: seven.
    assert [one.number for one in found.to_bring] == [7] * 8
    assert [one.own for one in found.to_bring] == [3, 7, 0, 0, 0, 0, 0, 0]


def test_a_mix_of_more_than_a_hundred_has_no_containers(ahead, jar, can):
    assert ahead((Use.FRESH, jar, 60), (Use.FRESH, can, 60)).fillings == ()


def test_the_plan_that_is_saved_is_the_one_looked_ahead_by(booking, scheme, save, bottle, box):
    save({bottle: 40, box: 60}, "0.6")
    AtHand.objects.create(plan=booking.plan, kind=bottle, number=7)

    found = ahead_of(booking, scheme=scheme)

    assert [(part.use, part.kind, part.percent) for part in found.wanted.parts] == [
        (Use.HEATED, bottle, 40),
        (Use.FRESH, box, 60),
    ]
    assert (found.wanted.at_hand, found.wanted.yield_expected) == ({bottle: 7}, Decimal("0.6"))


def test_a_booking_without_a_plan_has_the_usual_mix_for_the_usual_uses(booking, bottle, box):
    found = wanted_for(booking, ContainerKind.objects.in_use())

    assert (found.parts[0].use, found.parts[0].percent, found.plan) == (Use.HEATED, 75, None)


@pytest.mark.one_engine
# Rows that no database holds: the promise is of the sums alone.
@settings(max_examples=60)
@given(data=st.data())
def test_the_containers_always_hold_the_juice_at_the_upper_bound(data):
    bottle = ContainerKind(pk=89, name="bottle", litres=Decimal("0.78"), material="glass", reused_glass=True)
    jar = ContainerKind(pk=90, name="jar", litres=Decimal("1.03"), material="glass", lent=12)
    can = ContainerKind(pk=91, name="can", litres=Decimal("10.5"), material="hdpe")
    kinds = [bottle, jar, can]
    uses = {bottle: [Use.HEATED, Use.FRESH], jar: [Use.HEATED, Use.FROZEN], can: [Use.FRESH, Use.TO_FERMENT]}
    cuts = sorted(data.draw(st.lists(st.integers(0, 100), min_size=2, max_size=2)))
    percents = [cuts[0], cuts[1] - cuts[0], 100 - cuts[1]]
    booking = Booking(fruit_kg=Decimal(data.draw(st.integers(1, 200_000))) / 10)
    parts = [
        (data.draw(st.sampled_from(uses[kind])), kind, percent)
        for kind, percent in zip(kinds, percents, strict=True)
        if percent
    ]
    at_hand = {kind: number for kind in kinds if (number := data.draw(st.integers(0, 400)))}

    learned = Lessons(belief=PUBLISHED, evidence=Evidence(days=(), alike_by=()))
    found = ahead_of(booking, scheme=Scheme(), wanted=wanted(*parts, at_hand=at_hand), learned=learned)

    for use in {part[0] for part in parts}:
        held = sum(filling.litres for filling in found.fillings if filling.use is use)
        share = sum(percent for its_use, _kind, percent in parts if its_use is use)
        assert held >= Decimal(str(found.juice.high)) * share / 100
    for one in found.to_bring:
        assert one.own <= at_hand.get(one.kind, 0)
        assert one.borrowed <= one.kind.lent
        assert one.own + one.borrowed + one.bought == one.number
