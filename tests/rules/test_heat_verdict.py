"""The first verdict: held as recommended or not shown, with numbers."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.heat import HeatLog
from kitshare.rules.heat_verdict import (
    DEFAULT_RECOMMENDATION,
    OTHER_RECOMMENDATIONS,
    ReasonCode,
    Recommendation,
    Remedy,
    Verdict,
    holds,
    judge,
)
from kitshare.rules.probes import known_offset
from kitshare.rules.water import OutOfRange


def log(*readings: tuple[float, float]) -> HeatLog:
    return HeatLog(minutes=tuple(float(m) for m, _ in readings), celsius=tuple(float(c) for _, c in readings))


def every(step: float, *celsius: float) -> HeatLog:
    return log(*((i * step, c) for i, c in enumerate(celsius)))


GOOD = log((0, 20), (5, 65), (10, 85), (15, 80), (20, 78), (25, 76), (30, 75), (35, 60))
"""Over 75 from 7.5 to 30 minutes."""


def codes(found) -> set[ReasonCode]:  # type: ignore[no-untyped-def]
    return {r.code for r in found.reasons}


def test_a_long_hold_is_held_with_its_numbers() -> None:
    found = judge(GOOD, probe=known_offset(0), ph=3.4)

    assert found.verdict is Verdict.HELD
    assert found.reasons == ()
    assert found.remedies == ()
    assert found.reached_at == pytest.approx(7.5)
    assert found.longest is not None
    assert found.longest.minutes == pytest.approx(22.5)
    assert found.longest.lowest_c == 75
    assert found.highest_c == 85
    assert found.gaps == 0


def test_exactly_twenty_minutes_is_held_and_a_second_less_is_not() -> None:
    held = judge(every(5, 75, 75, 75, 75, 75))
    short = judge(log((0, 75), (5, 75), (10, 75), (15, 75), (19.983, 75)))

    assert held.verdict is Verdict.HELD
    assert short.verdict is Verdict.NOT_SHOWN
    assert ReasonCode.HOLD_TOO_SHORT in codes(short)
    assert short.remedies[0] is Remedy.HEAT_AGAIN


def test_times_are_told_from_the_first_reading() -> None:
    found = judge(log((100, 65), (105, 85), (110, 85), (115, 85), (120, 85), (125, 85)))

    assert found.reached_at == pytest.approx(2.5)
    assert found.longest is not None
    assert found.longest.start == pytest.approx(2.5)


def test_a_dip_breaks_the_hold_and_the_longest_part_counts() -> None:
    found = judge(every(5, 75, 76, 77, 74, 76, 76, 76, 76, 70))

    assert found.verdict is Verdict.NOT_SHOWN
    assert found.longest is not None
    assert found.longest.start == pytest.approx(17.5)
    assert found.longest.end == pytest.approx(35 + 5 / 6)
    assert found.longest.lowest_c == 76


def test_a_gap_breaks_the_hold_and_is_named() -> None:
    found = judge(log((0, 76), (5, 76), (10, 76), (16, 76), (21, 76)))

    assert found.verdict is Verdict.NOT_SHOWN
    assert codes(found) >= {ReasonCode.GAP_IN_READINGS, ReasonCode.HOLD_TOO_SHORT}
    gap = next(r for r in found.reasons if r.code is ReasonCode.GAP_IN_READINGS)
    assert (gap.seen, gap.wanted) == (6, 5)
    assert Remedy.READ_MORE_OFTEN in found.remedies
    assert found.gaps == 1


def test_a_gap_elsewhere_is_counted_but_not_blamed() -> None:
    found = judge(log((0, 20), (30, 76), (35, 76), (40, 76), (45, 76), (50, 76)))

    assert found.verdict is Verdict.HELD
    assert found.gaps == 1
    assert found.reached_at == 30


def test_a_crossing_inside_a_gap_is_not_interpolated() -> None:
    found = holds(log((0, 20), (30, 76), (35, 76), (60, 20)), target_c=75, longest_gap_minutes=5)

    assert [(h.start, h.end) for h in found] == [(30, 35)]


def test_each_gap_ends_a_hold_however_many_there_are() -> None:
    found = holds(log((0, 80), (2, 80), (20, 80), (22, 80), (40, 80), (42, 80)), target_c=75, longest_gap_minutes=5)

    assert [(h.start, h.end) for h in found] == [(0, 2), (20, 22), (40, 42)]


def test_a_lone_hot_reading_reached_the_target_and_held_nothing() -> None:
    found = judge(log((0, 20), (30, 80), (60, 20)))

    assert found.reached_at == 30
    assert found.longest is None
    reason = next(r for r in found.reasons if r.code is ReasonCode.HOLD_TOO_SHORT)
    assert reason.seen == 0


def test_a_log_that_never_got_hot_says_how_hot_it_got() -> None:
    found = judge(every(5, 20, 60, 74.9, 74))

    assert found.verdict is Verdict.NOT_SHOWN
    assert found.reached_at is None
    reason = next(r for r in found.reasons if r.code is ReasonCode.NEVER_REACHED)
    assert (reason.seen, reason.wanted) == (74.9, 75)


def test_two_readings_may_show_a_hold() -> None:
    short = Recommendation(target_c=75, hold_minutes=5, source="")

    assert judge(log((0, 75), (5, 75)), recommendation=short).verdict is Verdict.HELD


def test_what_one_can_do_is_said_once_each() -> None:
    too_sweet_only = judge(GOOD, probe=known_offset(0), ph=4.2)
    cold_too = judge(every(5, 20, 60), probe=known_offset(0), ph=4.2)

    assert too_sweet_only.remedies == (Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE, Remedy.ASK_FOOD_ADVICE)
    assert cold_too.remedies == (
        Remedy.HEAT_AGAIN,
        Remedy.KEEP_COLD_AND_DRINK_SOON,
        Remedy.FREEZE,
        Remedy.ASK_FOOD_ADVICE,
    )


@pytest.mark.parametrize("readings", [(), ((0, 80),)])
def test_too_few_readings_show_nothing(readings: tuple[tuple[float, float], ...]) -> None:
    found = judge(log(*readings))

    assert found.verdict is Verdict.NOT_SHOWN
    assert ReasonCode.TOO_FEW_READINGS in codes(found)


def test_a_probe_never_checked_is_said_beside_a_hold() -> None:
    found = judge(GOOD)

    assert found.verdict is Verdict.HELD
    assert ReasonCode.PROBE_NEVER_CHECKED in codes(found)
    assert Remedy.CHECK_PROBE in found.remedies


def test_a_probe_that_reads_high_loses_the_hold() -> None:
    assert judge(every(5, *[75.5] * 6), probe=known_offset(0)).verdict is Verdict.HELD
    assert judge(every(5, *[75.5] * 6), probe=known_offset(-1)).verdict is Verdict.NOT_SHOWN


@pytest.mark.parametrize(
    ("ph", "code", "verdict"),
    [
        (3.49, None, Verdict.HELD),
        (3.5, ReasonCode.PH_CAUTION, Verdict.HELD),
        (4.0, ReasonCode.PH_CAUTION, Verdict.HELD),
        (4.01, ReasonCode.PH_OVER_TABLES, Verdict.NOT_SHOWN),
        (None, ReasonCode.PH_NOT_MEASURED, Verdict.HELD),
    ],
)
def test_sourness_decides_what_can_be_shown(ph: float | None, code: ReasonCode | None, verdict: Verdict) -> None:
    found = judge(GOOD, probe=known_offset(0), ph=ph)

    assert found.verdict is verdict
    assert codes(found) == ({code} if code else set())
    assert (Remedy.ASK_FOOD_ADVICE in found.remedies) is (verdict is Verdict.NOT_SHOWN)


def test_lethality_stands_beside_the_verdict_and_does_not_change_it() -> None:
    hot_and_short = judge(every(5, 90, 90, 90), probe=known_offset(0), ph=3.4)

    assert hot_and_short.lethality.pu_60_7 > 100_000
    assert hot_and_short.verdict is Verdict.NOT_SHOWN


@pytest.mark.parametrize(
    "call",
    [
        lambda: judge(GOOD, ph=15),
        lambda: judge(GOOD, longest_gap_minutes=-1),
        lambda: Recommendation(target_c=49, hold_minutes=20, source=""),
        lambda: Recommendation(target_c=75, hold_minutes=0, source=""),
    ],
)
def test_nonsense_is_refused_with_its_range(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange):
        call()


def test_every_recommendation_names_its_source() -> None:
    assert DEFAULT_RECOMMENDATION.target_c == 75
    assert DEFAULT_RECOMMENDATION.hold_minutes == 20
    assert all(r.source for r in (DEFAULT_RECOMMENDATION, *OTHER_RECOMMENDATIONS))


readings = st.lists(st.tuples(st.floats(0.1, 8), st.floats(60, 90)), min_size=2, max_size=30)


def from_steps(steps: list[tuple[float, float]]) -> HeatLog:
    minutes, at = [], 0.0
    for step, _ in steps:
        at += step
        minutes.append(at)
    return HeatLog(minutes=tuple(minutes), celsius=tuple(c for _, c in steps))


@given(readings, st.data())
@settings(deadline=None)
def test_a_verdict_never_improves_when_a_reading_falls(steps: list[tuple[float, float]], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(steps) - 1))
    drop = data.draw(st.floats(0.01, 30))
    wanted = Recommendation(target_c=75, hold_minutes=data.draw(st.floats(1, 25)), source="")
    before = from_steps(steps)
    celsius = list(before.celsius)
    celsius[place] -= drop
    after = HeatLog(minutes=before.minutes, celsius=tuple(celsius))

    first = judge(before, recommendation=wanted)
    second = judge(after, recommendation=wanted)

    assert not (first.verdict is Verdict.NOT_SHOWN and second.verdict is Verdict.HELD)
    held = first.longest.minutes if first.longest else 0.0
    assert (second.longest.minutes if second.longest else 0.0) <= held + 1e-6


def holds_one_by_one(log: HeatLog, target_c: float, gap: float) -> list[tuple[float, float, float]]:
    """The holds of a log by its stretches in turn: start, end, coldest reading."""
    found: list[list[float]] = []
    is_on = False
    rows = list(zip(log.minutes, log.minutes[1:], log.celsius, log.celsius[1:], strict=False))
    for begin, end, first, last in rows:
        if end - begin > gap + 1e-9:
            is_on = False
            continue
        hot = [c >= target_c - 1e-6 for c in (first, last)]
        if not any(hot):
            continue
        crossing = begin if all(hot) else begin + (end - begin) * min(1, max(0, (target_c - first) / (last - first)))
        if not is_on:
            found.append([begin, end, first] if hot[0] else [crossing, end, last])
        if hot[1]:
            found[-1] = [found[-1][0], end, min(found[-1][2], last)]
        else:
            found[-1][1] = crossing
        is_on = hot[1]
    return [(start, end, lowest) for start, end, lowest in found]


@given(
    st.lists(
        st.tuples(st.sampled_from([0.5, 1.0, 4.9, 5.0, 5.1, 9.0]), st.sampled_from([60.0, 74.9, 75.0, 75.1, 80.0])),
        max_size=14,
    ),
    st.sampled_from([0.7, 5.0, float("inf")]),
)
@settings(deadline=None)
def test_holds_are_those_of_the_stretches_in_turn(steps: list[tuple[float, float]], gap: float) -> None:
    log = from_steps(steps)

    found = [(h.start, h.end, h.lowest_c) for h in holds(log, target_c=75, longest_gap_minutes=gap)]

    assert found == holds_one_by_one(log, 75, gap)


@given(readings)
@settings(deadline=None)
def test_holds_stay_within_the_log_and_apart(steps: list[tuple[float, float]]) -> None:
    whole = from_steps(steps)

    found = holds(whole, target_c=75, longest_gap_minutes=5)

    assert all(whole.minutes[0] <= h.start <= h.end <= whole.minutes[-1] for h in found)
    assert all(a.end <= b.start for a, b in pairwise(found))
    assert all(h.lowest_c >= 75 - 1e-5 for h in found)


# The numbers that stand beside each reason


def said(log: HeatLog, **how: object) -> dict[ReasonCode, tuple[float | None, float | None]]:
    return {reason.code: (reason.seen, reason.wanted) for reason in judge(log, **how).reasons}  # type: ignore[arg-type]


def log_of(*readings: tuple[float, float]) -> HeatLog:
    return HeatLog(minutes=tuple(m for m, _ in readings), celsius=tuple(c for _, c in readings))


HOT = log_of((0, 75), (5, 75), (10, 75), (15, 75), (20, 75))


@pytest.mark.parametrize(
    ("log", "how", "code", "seen", "wanted"),
    [
        (log_of((3, 80)), {}, ReasonCode.TOO_FEW_READINGS, 1, 2),
        (log_of(), {}, ReasonCode.TOO_FEW_READINGS, 0, 2),
        (log_of((0, 60), (5, 74)), {}, ReasonCode.NEVER_REACHED, 74, 75),
        (log_of((0, 75), (4, 75), (5, 60)), {}, ReasonCode.HOLD_TOO_SHORT, 4, 20),
        (log_of((0, 75), (12, 75), (20, 75)), {}, ReasonCode.GAP_IN_READINGS, 12, 5),
        (HOT, {}, ReasonCode.PH_NOT_MEASURED, None, 4),
        (HOT, {"ph": 4.2}, ReasonCode.PH_OVER_TABLES, 4.2, 4),
        (HOT, {"ph": 3.5}, ReasonCode.PH_CAUTION, 3.5, 3.5),
    ],
)
def test_a_reason_has_what_was_seen_and_what_was_wanted(log, how, code, seen, wanted):  # type: ignore[no-untyped-def]
    assert said(log, **how)[code] == (seen, wanted)


def test_a_hold_and_a_temperature_short_by_less_than_the_arithmetic_loses_are_not_short() -> None:
    just = log_of((0, 75 - 5e-7), (5, 75), (10, 75), (15, 75), (20 - 5e-7, 75))

    assert judge(just, ph=3.4).verdict is Verdict.HELD
    assert judge(log_of((0, 75), (5, 75), (10, 75), (15, 75), (19.99, 75)), ph=3.4).verdict is Verdict.NOT_SHOWN


def test_a_hold_begins_no_later_than_its_first_reading_though_that_is_a_hair_under_the_target() -> None:
    hairs = log_of((0, 75 - 1.1e-6), (5, 75 - 0.9e-6), (10, 75))

    assert [hold.start for hold in holds(hairs, target_c=75, longest_gap_minutes=5)] == [5]


def test_a_pause_is_no_reason_where_without_it_the_hold_would_be_too_short_as_well() -> None:
    assert ReasonCode.GAP_IN_READINGS not in said(log_of((0, 75), (12, 75), (19, 75)))
    assert ReasonCode.GAP_IN_READINGS in said(log_of((0, 75), (12, 75), (20, 75)))
    assert ReasonCode.GAP_IN_READINGS not in said(
        log_of((0, 60), (12, 75), (24, 60)), recommendation=Recommendation(target_c=75, hold_minutes=1, source="")
    )


@pytest.mark.parametrize(
    ("log", "ph", "remedies"),
    [
        (HOT, 3.4, [Remedy.CHECK_PROBE]),
        (HOT, None, [Remedy.MEASURE_PH, Remedy.CHECK_PROBE]),
        (HOT, 4.2, [Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE, Remedy.ASK_FOOD_ADVICE, Remedy.CHECK_PROBE]),
        (
            log_of((0, 60), (5, 74)), 4.2,
            [Remedy.HEAT_AGAIN, Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE, Remedy.ASK_FOOD_ADVICE, Remedy.CHECK_PROBE],
        ),
        (
            log_of((0, 75), (12, 75), (20, 75)), 3.4,
            [Remedy.HEAT_AGAIN, Remedy.KEEP_COLD_AND_DRINK_SOON, Remedy.FREEZE, Remedy.READ_MORE_OFTEN, Remedy.CHECK_PROBE],
        ),
    ],
)  # fmt: skip
def test_the_remedies_are_those_of_the_reasons_in_their_order(
    log: HeatLog, ph: float | None, remedies: list[Remedy]
) -> None:
    assert list(judge(log, ph=ph).remedies) == remedies


def test_a_verdict_counts_from_the_first_reading_and_says_by_what_it_was_judged() -> None:
    late = log_of((100, 60), (103, 75), (106, 76), (109, 60))

    found = judge(late, ph=4.2)

    assert found.recommendation is DEFAULT_RECOMMENDATION
    assert found.longest is not None
    assert (found.longest.start, found.longest.end) == pytest.approx((3, 6 + 3 / 16))
    assert found.reached_at == 3
    assert found.lethality.covered is False
    assert found.gaps == 0


def test_a_gap_that_is_not_counted_as_held_adds_no_heat_either() -> None:
    paused = log_of((0, 75), (12, 75))

    assert judge(paused).lethality.pu_60_7 == 0
    assert judge(paused, longest_gap_minutes=12).lethality.pu_60_7 > 1000


def test_a_lone_hot_reading_between_two_gaps_was_reached_then() -> None:
    assert judge(log_of((0, 75), (12, 60), (14, 60))).reached_at == 0
    assert judge(log_of((0, 60), (12, 80), (24, 60), (36, 80), (38, 80))).reached_at == 12
