"""Lethality: exact ramps, what is left out, and what may never happen."""

from math import inf, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from kitshare.rules import heat
from kitshare.rules.heat import HeatLog, Organism

warm = st.floats(-20, 120)


def level(celsius: float, minutes: float) -> HeatLog:
    return HeatLog(minutes=(0.0, minutes), celsius=(celsius, celsius))


@given(warm, warm, st.floats(0.01, 30))
@settings(deadline=None)
def test_a_ramp_is_the_integral_of_the_rate(first: float, last: float, minutes: float) -> None:
    def counted_rate(at: float) -> float:
        celsius = first + (last - first) * at / minutes
        return heat.rate(celsius) if celsius >= heat.LEAST_COUNTED_C else 0.0

    kink = []
    if (first - 50) * (last - 50) < 0:
        kink = [minutes * (50 - first) / (last - first)]
    expected, _ = quad(counted_rate, 0, minutes, points=kink or None, limit=200)

    assert heat.ramp_minutes(minutes, first, last) == pytest.approx(expected, rel=1e-6, abs=1e-9)


@given(warm, warm, st.floats(0.01, 30))
@settings(deadline=None)
def test_a_ramp_counts_the_same_up_and_down(first: float, last: float, minutes: float) -> None:
    assert heat.ramp_minutes(minutes, first, last) == pytest.approx(heat.ramp_minutes(minutes, last, first), rel=1e-9)


@given(st.floats(50, 120), st.floats(50, 120), st.floats(0.01, 30), st.floats(0.01, 0.99))
@settings(deadline=None)
def test_a_ramp_cut_in_two_counts_the_same(a: float, b: float, minutes: float, at: float) -> None:
    middle = a + (b - a) * at
    whole = heat.ramp_minutes(minutes, a, b)

    parts = heat.ramp_minutes(minutes * at, a, middle) + heat.ramp_minutes(minutes * (1 - at), middle, b)

    assert parts == pytest.approx(whole, rel=1e-9)


def test_the_trapezoid_over_counts_and_is_not_used() -> None:
    trapezoid = 7 * (heat.rate(60) + heat.rate(67)) / 2

    assert trapezoid > 1.4 * heat.ramp_minutes(7, 60, 67)


def test_heat_below_fifty_counts_for_nothing() -> None:
    assert heat.pasteurisation_units(level(49.9, 600)) == 0
    assert heat.ramp_minutes(20, 30, 70) == pytest.approx(heat.ramp_minutes(10, 50, 70))


def test_at_fifty_heat_begins_to_count() -> None:
    at_fifty = pytest.approx(5 * 10 ** (-10 / 7))

    assert heat.ramp_minutes(5, 50, 50) == at_fifty
    assert heat.pasteurisation_units(level(50, 5)) == at_fifty


def test_a_log_that_goes_through_fifty_and_twice_over_the_same_degrees_adds_up() -> None:
    zigzag = HeatLog(minutes=(0.0, 4.0, 5.0, 6.0, 9.0), celsius=(30.0, 70.0, 60.0, 70.0, 40.0))
    ramps = [heat.ramp_minutes(*one) for one in ((4, 30, 70), (1, 70, 60), (1, 60, 70), (3, 70, 40))]

    assert heat.pasteurisation_units(zigzag) == pytest.approx(sum(ramps))


def test_a_gap_in_the_readings_counts_for_nothing() -> None:
    log = HeatLog(minutes=(0.0, 5.0, 10.1, 15.0), celsius=(75.0,) * 4)

    counted = heat.pasteurisation_units(log, longest_gap_minutes=5)

    assert counted == pytest.approx(9.9 * heat.rate(75))


def test_a_gap_of_just_the_length_allowed_is_still_read() -> None:
    log = HeatLog(minutes=(0.0, 5.0), celsius=(75.0, 75.0))

    assert heat.pasteurisation_units(log, longest_gap_minutes=5) > 0
    longer = HeatLog(minutes=(0.0, heat.DEFAULT_LONGEST_GAP_MINUTES + 1), celsius=(75.0, 75.0))
    assert heat.pasteurisation_units(longer) == 0
    assert heat.pasteurisation_units(longer, longest_gap_minutes=longer.minutes[1]) > 0


@given(st.lists(warm, min_size=2, max_size=12), st.data())
@settings(deadline=None)
def test_a_reading_that_falls_never_adds_heat(celsius: list[float], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(celsius) - 1))
    drop = data.draw(st.floats(0, 60))
    minutes = tuple(float(i) for i in range(len(celsius)))
    lower = [*celsius[:place], celsius[place] - drop, *celsius[place + 1 :]]

    before = heat.lethality(HeatLog(minutes=minutes, celsius=tuple(celsius)))
    after = heat.lethality(HeatLog(minutes=minutes, celsius=tuple(lower)))

    assert after.pu_60_7 <= before.pu_60_7 * (1 + 1e-9)
    assert after.spore_80_10 <= before.spore_80_10 * (1 + 1e-9)
    assert all(after.logs[o] <= before.logs[o] * (1 + 1e-9) for o in Organism)


steps = st.one_of(st.floats(-90, 90), st.floats(-1e-5, 1e-5), st.sampled_from([0.0, 0.1, -0.1, 1e-6, -1e-6]))


@given(st.floats(40, 90), st.lists(st.tuples(st.floats(0.01, 8), steps), max_size=30), st.sampled_from([1.0, 5.0]))
@settings(deadline=None)
def test_a_log_adds_up_to_its_ramps_one_by_one(start: float, rows: list[tuple[float, float]], gap: float) -> None:
    """However level or steep, over 50 C and under: what is added by temperature is the sum of the exact ramps."""
    minutes, celsius = [0.0], [start]
    for after, rise in rows:
        minutes.append(minutes[-1] + after)
        celsius.append(min(max(celsius[-1] + rise, -20.0), 120.0))
    log = HeatLog(minutes=tuple(minutes), celsius=tuple(celsius))
    read = [
        (end - begin, first, last)
        for begin, end, first, last in zip(minutes, minutes[1:], celsius, celsius[1:], strict=False)
        if end - begin <= gap + 1e-9
    ]

    for reference, z in ((60.0, 7.0), (80.0, 10.0), (71.1, 5.3)):
        found = heat.equivalent_minutes(log, reference_c=reference, z_c=z, longest_gap_minutes=gap)
        exact = sum(heat.ramp_minutes(*one, reference_c=reference, z_c=z) for one in read)
        assert found == pytest.approx(exact, rel=1e-7, abs=1e-7)


def test_a_pathogen_is_dead_long_before_juice_keeps() -> None:
    found = heat.lethality(level(71.1, 0.1))

    assert found.logs[Organism.CRYPTOSPORIDIUM] == pytest.approx(5, rel=1e-9)
    assert found.pu_60_7 < heat.PU_WANTED_LOW / 100


@pytest.mark.parametrize(("ph", "covered"), [(None, True), (4.0, True), (4.01, False)])
def test_sources_cover_a_ph_of_four_and_less(ph: float | None, covered: bool) -> None:
    assert heat.lethality(level(75, 5), ph=ph).covered is covered


def test_every_resistance_names_its_source() -> None:
    assert set(heat.RESISTANCES) == set(Organism)
    assert all(r.source and r.d_seconds > 0 and r.z_c > 0 for r in heat.RESISTANCES.values())


@pytest.mark.parametrize(
    ("minutes", "celsius"),
    [
        ((0.0, 1.0), (75.0,)),
        ((0.0, 0.0), (75.0, 75.0)),
        ((1.0, 0.0), (75.0, 75.0)),
        ((0.0, inf), (75.0, 75.0)),
        ((0.0, 1.0), (75.0, nan)),
    ],
)
def test_a_log_that_could_only_be_misread_is_refused(minutes: tuple[float, ...], celsius: tuple[float, ...]) -> None:
    with pytest.raises(heat.LogUnusable):
        HeatLog(minutes=minutes, celsius=celsius)
