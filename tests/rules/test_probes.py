"""Probes: corrections from ice and boiling water, and what is said about them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.heat import HeatLog
from kitshare.rules.probes import (
    UNCHECKED,
    ProbeCheck,
    ProbeRemark,
    ProbeUnusable,
    correction,
    known_offset,
)
from kitshare.rules.water import OutOfRange


@given(st.floats(0.9, 1.1), st.floats(-3, 3), st.floats(0, 100), st.floats(0, 2000))
@settings(deadline=None)
def test_two_points_undo_any_straight_error(gain: float, offset: float, true_c: float, altitude: float) -> None:
    check = ProbeCheck(altitude_m=altitude)
    read = ProbeCheck(
        ice_reading_c=offset,
        boiling_reading_c=gain * check.boiling_c + offset,
        altitude_m=altitude,
    )

    assert correction(read).true_celsius(gain * true_c + offset) == pytest.approx(true_c, abs=1e-6)


def test_a_perfect_probe_on_a_hill_is_left_alone() -> None:
    found = correction(ProbeCheck(ice_reading_c=0.0, boiling_reading_c=98.98, altitude_m=300))

    assert found.true_celsius(75) == pytest.approx(75, abs=0.01)
    assert found.remarks == ()


def test_pressure_goes_before_altitude() -> None:
    by_weather = ProbeCheck(boiling_reading_c=98.76, altitude_m=2000, pressure_hpa=970)

    assert correction(by_weather).offset_c == pytest.approx(0, abs=0.01)


def test_a_probe_that_reads_three_degrees_low_is_corrected_and_said() -> None:
    found = correction(ProbeCheck(ice_reading_c=-3.0, boiling_reading_c=96.97))

    assert found.true_celsius(72) == pytest.approx(75, abs=0.01)
    assert found.remarks == (ProbeRemark.OFF_BY_MORE,)


@pytest.mark.parametrize("check", [None, ProbeCheck()])
def test_a_probe_never_checked_is_said_and_not_corrected(check: ProbeCheck | None) -> None:
    assert correction(check) == UNCHECKED
    assert UNCHECKED.true_celsius(75) == 75
    assert UNCHECKED.remarks == (ProbeRemark.NEVER_CHECKED,)


def test_one_point_gives_an_offset_and_a_remark() -> None:
    found = correction(ProbeCheck(ice_reading_c=0.5))

    assert found.offset_c == -0.5
    assert found.gain == 1
    assert found.remarks == (ProbeRemark.ONE_POINT_ONLY,)


@pytest.mark.parametrize(("days", "said"), [(365, False), (366, True)])
def test_an_old_check_is_said(days: int, said: bool) -> None:
    found = correction(ProbeCheck(ice_reading_c=0, boiling_reading_c=99.97, age_days=days))

    assert (ProbeRemark.CHECK_OLD in found.remarks) is said


@pytest.mark.parametrize(("error", "said"), [(1.0, False), (1.01, True)])
def test_more_than_one_degree_off_is_said(error: float, said: bool) -> None:
    found = correction(ProbeCheck(ice_reading_c=error))

    assert (ProbeRemark.OFF_BY_MORE in found.remarks) is said


@pytest.mark.parametrize("check", [ProbeCheck(ice_reading_c=15.1), ProbeCheck(boiling_reading_c=20)])
def test_a_hopeless_probe_is_refused(check: ProbeCheck) -> None:
    with pytest.raises(ProbeUnusable):
        correction(check)


def test_a_known_offset_is_added() -> None:
    log = HeatLog(minutes=(0.0, 1.0), celsius=(72.0, 73.0))

    assert known_offset(3).applied_to(log).celsius == (75.0, 76.0)
    assert known_offset(0).applied_to(log) is log
    assert known_offset(3).remarks == (ProbeRemark.OFF_BY_MORE,)
    with pytest.raises(OutOfRange):
        known_offset(16)


def test_fifteen_degrees_off_is_the_most_that_is_corrected() -> None:
    assert correction(ProbeCheck(ice_reading_c=15.0)).offset_c == -15
    assert correction(ProbeCheck(ice_reading_c=-15.0)).offset_c == 15
    with pytest.raises(ProbeUnusable, match=r"^the probe is -16\.0 C off: mend or replace it$"):
        correction(ProbeCheck(ice_reading_c=-16.0, boiling_reading_c=99.97))


def test_one_degree_is_within_what_a_probe_may_be_off() -> None:
    assert known_offset(1.0).remarks == known_offset(-1.0).remarks == ()
    assert known_offset(1.01).remarks == known_offset(-1.01).remarks == (ProbeRemark.OFF_BY_MORE,)
