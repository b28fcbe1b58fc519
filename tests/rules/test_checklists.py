from itertools import product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kitshare.rules.checklists import (
    CheckRefused,
    Condition,
    CountOutOfRange,
    ExpectedOutOfRange,
    FaultFinding,
    FaultReason,
    MissingButCounted,
    NoneSeen,
    PartKind,
    Seen,
    Severity,
    StopReason,
    WentOutCountOutOfRange,
    fault_from,
    stops_handover,
)

VITAL, GUARD, COUNTED, CONSUMABLE, ORDINARY = PartKind
SOUND, WORN, DAMAGED, MISSING = Condition
STOPS, CARE = Severity.STOPS_USE, Severity.USE_WITH_CARE
unhurried = settings(deadline=None)


def seen(
    kind: PartKind,
    condition: Condition,
    count: int,
    *,
    expected: int = 3,
    spare_fitted: bool = False,
) -> Seen:
    return Seen(
        part_key="mill-pin",
        kind=kind,
        expected=expected,
        count=count,
        condition=condition,
        spare_fitted=spare_fitted,
    )


# Each way a part of which three belong to the machine can look. "all" is 3, "some" is 2.
LOOKS = {
    "sound, all": (SOUND, 3),
    "sound, some": (SOUND, 2),
    "worn, all": (WORN, 3),
    "worn, some": (WORN, 2),
    "damaged, all": (DAMAGED, 3),
    "damaged, some": (DAMAGED, 2),
    "missing": (MISSING, 0),
}

STOPS_A_NEEDED_PART = {
    "sound, all": None,
    "sound, some": StopReason.SHORT,
    "worn, all": None,
    "worn, some": StopReason.SHORT,
    "damaged, all": StopReason.DAMAGED,
    "damaged, some": StopReason.DAMAGED,
    "missing": StopReason.MISSING,
}


@pytest.mark.parametrize(("look", "kind"), list(product(LOOKS, PartKind)))
def test_only_a_vital_or_guard_part_stops_a_pickup(look: str, kind: PartKind) -> None:
    condition, count = LOOKS[look]

    reason = stops_handover(seen(kind, condition, count))

    assert reason == (STOPS_A_NEEDED_PART[look] if kind in {VITAL, GUARD} else None)


@pytest.mark.parametrize(("look", "kind"), list(product(LOOKS, PartKind)))
def test_a_spare_put_in_place_lets_the_machine_go(look: str, kind: PartKind) -> None:
    condition, count = LOOKS[look]

    assert stops_handover(seen(kind, condition, count, spare_fitted=True)) is None


# What a check finds when all three went out (or belong there): reason and how many are gone.
FOUND = {
    "sound, all": None,
    "sound, some": (FaultReason.FEWER, 1),
    "worn, all": None,
    "worn, some": (FaultReason.FEWER, 1),
    "damaged, all": (FaultReason.DAMAGED, 0),
    "damaged, some": (FaultReason.DAMAGED, 1),
    "missing": (FaultReason.MISSING, 3),
}


@pytest.mark.parametrize("went_out", [None, 3], ids=["pickup", "return"])
@pytest.mark.parametrize(("look", "kind"), list(product(LOOKS, [VITAL, GUARD, COUNTED, ORDINARY])))
def test_what_is_missing_damaged_or_fewer_is_a_fault(look: str, kind: PartKind, went_out: int | None) -> None:
    condition, count = LOOKS[look]

    finding = fault_from(seen(kind, condition, count), went_out)

    found = FOUND[look]
    if found is None:
        assert finding is None
    else:
        reason, short_by = found
        assert finding == FaultFinding(
            part_key="mill-pin",
            severity=STOPS if kind in {VITAL, GUARD} else CARE,
            reason=reason,
            short_by=short_by,
            replace_spare=False,
        )


@pytest.mark.parametrize("went_out", [None, 3], ids=["pickup", "return"])
@pytest.mark.parametrize(("look", "kind"), list(product(LOOKS, [VITAL, GUARD, COUNTED, ORDINARY])))
def test_a_spare_that_was_fitted_must_be_replaced_and_asks_for_care(
    look: str, kind: PartKind, went_out: int | None
) -> None:
    condition, count = LOOKS[look]
    reason, short_by = FOUND[look] or (FaultReason.SPARE_USED, 0)

    finding = fault_from(seen(kind, condition, count, spare_fitted=True), went_out)

    assert finding == FaultFinding(
        part_key="mill-pin", severity=CARE, reason=reason, short_by=short_by, replace_spare=True
    )


@pytest.mark.parametrize("went_out", [None, 0, 3, 9])
@pytest.mark.parametrize(("look", "spare_fitted"), list(product(LOOKS, [False, True])))
def test_a_consumable_may_be_used_up_but_not_damaged(look: str, went_out: int | None, spare_fitted: bool) -> None:
    condition, count = LOOKS[look]

    finding = fault_from(seen(CONSUMABLE, condition, count, spare_fitted=spare_fitted), went_out)

    if condition == DAMAGED:
        assert finding is not None
        assert (finding.severity, finding.reason, finding.short_by) == (
            CARE,
            FaultReason.DAMAGED,
            0,
        )
    else:
        assert finding is None


def test_a_shortage_written_down_at_pickup_is_not_written_down_again_at_return() -> None:
    eight_of_ten = seen(COUNTED, SOUND, 8, expected=10)

    at_pickup = fault_from(eight_of_ten)
    at_return = fault_from(eight_of_ten, went_out_count=8)

    assert at_pickup is not None
    assert at_pickup.short_by == 2
    assert at_return is None
    assert fault_from(seen(ORDINARY, MISSING, 0), went_out_count=0) is None


def test_a_guard_that_never_went_out_still_stops_use_at_return() -> None:
    finding = fault_from(seen(GUARD, MISSING, 0), went_out_count=0)

    assert finding is not None
    assert (finding.severity, finding.short_by) == (STOPS, 3)


def test_more_went_out_than_belong_and_fewer_came_back() -> None:
    for kind, severity in ((VITAL, STOPS), (COUNTED, CARE)):
        finding = fault_from(seen(kind, SOUND, 3, expected=3), went_out_count=4)

        assert finding is not None
        assert (finding.severity, finding.short_by) == (severity, 1)


def test_more_back_than_went_out_is_no_fault() -> None:
    assert fault_from(seen(COUNTED, SOUND, 10, expected=10), went_out_count=8) is None


def test_spares_travel_with_the_machine() -> None:
    assert seen(VITAL, MISSING, 0, expected=1, spare_fitted=True).goes_out == 1
    assert seen(COUNTED, SOUND, 8, expected=10).goes_out == 8
    assert seen(COUNTED, SOUND, 8, expected=10, spare_fitted=True).goes_out == 10
    assert seen(COUNTED, SOUND, 12, expected=10, spare_fitted=True).goes_out == 12


@pytest.mark.parametrize(
    ("condition", "count", "expected", "refusal", "field"),
    [
        (SOUND, -1, 3, CountOutOfRange, "count"),
        (MISSING, -1, 3, CountOutOfRange, "count"),
        (SOUND, 1001, 3, CountOutOfRange, "count"),
        (SOUND, 3, 0, ExpectedOutOfRange, "expected"),
        (SOUND, 3, 1001, ExpectedOutOfRange, "expected"),
        (MISSING, 1, 3, MissingButCounted, "condition"),
        (SOUND, 0, 3, NoneSeen, "condition"),
        (WORN, 0, 3, NoneSeen, "condition"),
        (DAMAGED, 0, 3, NoneSeen, "condition"),
    ],
)
def test_what_cannot_be_so_is_refused_by_the_field(
    condition: Condition, count: int, expected: int, refusal: type[CheckRefused], field: str
) -> None:
    with pytest.raises(refusal) as refused:
        seen(VITAL, condition, count, expected=expected)

    assert refused.value.field == field
    assert refused.value.part_key == "mill-pin"
    assert refused.value.value == (expected if field == "expected" else count)
    assert str(refused.value) == f"{refusal.__name__}: part 'mill-pin', {field} {refused.value.value}"


@pytest.mark.parametrize("count", [1, 1000])
def test_the_bounds_themselves_are_allowed(count: int) -> None:
    assert seen(COUNTED, SOUND, count, expected=count).goes_out == count


@pytest.mark.parametrize("went_out", [-1, 1001])
def test_an_impossible_number_that_went_out_is_refused(went_out: int) -> None:
    with pytest.raises(WentOutCountOutOfRange) as refused:
        fault_from(seen(COUNTED, SOUND, 3), went_out)

    assert refused.value.field == "went_out_count"
    assert (refused.value.part_key, refused.value.value) == ("mill-pin", went_out)


@pytest.mark.parametrize("went_out", [0, 1000])
def test_the_bounds_of_what_went_out_are_taken(went_out: int) -> None:
    found = fault_from(seen(COUNTED, SOUND, 3), went_out)

    assert (found.short_by if found else 0) == max(0, went_out - 3)


def test_values_read_back_as_plain_strings_mean_the_same() -> None:
    plain = Seen(part_key="p", kind="vital", expected=1, count=0, condition="missing")  # type: ignore[arg-type]

    assert stops_handover(plain) == StopReason.MISSING
    finding = fault_from(plain)
    assert finding is not None
    assert finding.severity == STOPS


def test_ranks_run_from_best_condition_and_from_worst_fault() -> None:
    assert [condition.rank for condition in (SOUND, WORN, DAMAGED, MISSING)] == [0, 1, 2, 3]
    assert [severity.rank for severity in (STOPS, CARE, Severity.LOOKS_ONLY)] == [0, 1, 2]


def mildness(finding: FaultFinding | None) -> int:
    return len(Severity) if finding is None else finding.severity.rank


numbers = st.integers(1, 12)
went_out_numbers = st.none() | numbers


@unhurried
@given(
    kind=st.sampled_from(PartKind),
    expected=numbers,
    count=numbers,
    went_out=went_out_numbers,
    spare_fitted=st.booleans(),
    conditions=st.tuples(st.sampled_from(Condition), st.sampled_from(Condition)),
)
def test_a_worse_condition_never_gives_a_milder_result(
    kind: PartKind,
    expected: int,
    count: int,
    went_out: int | None,
    spare_fitted: bool,
    conditions: tuple[Condition, Condition],
) -> None:
    better, worse = sorted(conditions, key=lambda condition: condition.rank)
    assume(not (kind == CONSUMABLE and worse == MISSING))  # used up is better than damaged

    def look(condition: Condition) -> Seen:
        how_many = 0 if condition == MISSING else count
        return seen(kind, condition, how_many, expected=expected, spare_fitted=spare_fitted)

    assert mildness(fault_from(look(worse), went_out)) <= mildness(fault_from(look(better), went_out))
    if stops_handover(look(better)):
        assert stops_handover(look(worse))


@unhurried
@given(
    kind=st.sampled_from([VITAL, GUARD, COUNTED, ORDINARY]),
    condition=st.sampled_from([SOUND, WORN, DAMAGED]),
    expected=numbers,
    counts=st.tuples(numbers, numbers),
    went_out=went_out_numbers,
)
def test_fewer_of_a_part_never_gives_a_milder_result(
    kind: PartKind,
    condition: Condition,
    expected: int,
    counts: tuple[int, int],
    went_out: int | None,
) -> None:
    fewer, more = (fault_from(seen(kind, condition, count, expected=expected), went_out) for count in sorted(counts))

    assert mildness(fewer) <= mildness(more)


@unhurried
@given(
    kind=st.sampled_from(PartKind),
    condition=st.sampled_from(Condition),
    expected=numbers,
    count=numbers,
    spare_fitted=st.booleans(),
)
def test_what_stops_a_pickup_is_also_a_fault_that_stops_use_and_nothing_else_is(
    kind: PartKind, condition: Condition, expected: int, count: int, spare_fitted: bool
) -> None:
    part = seen(
        kind,
        condition,
        0 if condition == MISSING else count,
        expected=expected,
        spare_fitted=spare_fitted,
    )

    finding = fault_from(part)

    assert (stops_handover(part) is not None) == (finding is not None and finding.severity == STOPS)
