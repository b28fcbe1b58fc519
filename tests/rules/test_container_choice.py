"""The least number to borrow or buy, against a mixed-integer solver."""

from decimal import Decimal
from time import perf_counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from kitshare.rules.container_choice import Choice, Need, NotEnoughContainers, Supply, choose
from kitshare.rules.containers import USUAL_KINDS, Kind, Material, RefusalCode, Use, refusals

KINDS = {k.key: k for k in USUAL_KINDS}
BOTTLE, CAN, TUB, PET = KINDS["bottle_750"], KINDS["can_10"], KINDS["tub_1"], KINDS["pet_2"]


def box(key: str, litres: str, **more: object) -> Kind:
    """A plain container, filled to the brim whatever the use, so that sums can be done by head."""
    return Kind(key=key, litres=Decimal(litres), material=Material.GLASS, fill_fraction=Decimal("0.9"), **more)  # type: ignore[arg-type]


def need(use: Use, litres: str | float) -> Need:
    return Need(use=use, litres=Decimal(str(litres)))


def plain(choice: Choice) -> set[tuple[str, str, int, int]]:
    return {(f.use.value, f.kind.key, f.at_hand, f.to_get) for f in choice.fillings}


def test_more_is_got_only_of_the_kinds_that_are_wished_for_a_need() -> None:
    small, large = box("small", "10"), box("large", "100")
    needs = [
        Need(use=Use.FRESH, litres=Decimal(18), more_of=frozenset(["small"])),
        Need(use=Use.FRESH, litres=Decimal(90), more_of=frozenset(["large"])),
    ]

    found = choose(needs, [Supply(kind=small), Supply(kind=large)], heat_c=75)

    assert plain(found) == {("fresh", "small", 0, 2), ("fresh", "large", 0, 1)}


def test_what_is_at_hand_goes_into_any_need_and_is_told_once_for_its_use() -> None:
    small = box("small", "10")
    needs = [
        Need(use=Use.FRESH, litres=Decimal(18), more_of=frozenset(["large"])),
        Need(use=Use.FRESH, litres=Decimal(9), more_of=frozenset(["small"])),
    ]

    found = choose(needs, [Supply(kind=small, at_hand=5), Supply(kind=box("large", "100"))], heat_c=75)

    assert plain(found) == {("fresh", "small", 3, 0)}


def test_a_need_of_which_nothing_may_be_got_is_refused() -> None:
    with pytest.raises(NotEnoughContainers):
        choose(
            [Need(use=Use.FRESH, litres=Decimal(1), more_of=frozenset())], [Supply(kind=box("ten", "10"))], heat_c=75
        )


def test_what_is_at_hand_goes_in_first() -> None:
    found = choose([need(Use.FRESH, 27)], [Supply(kind=box("ten", "10"), at_hand=2)], heat_c=75)

    assert plain(found) == {("fresh", "ten", 2, 1)}
    assert found.to_get == 1
    assert found.least_proved


def test_nothing_is_got_while_what_is_at_hand_will_do() -> None:
    supplies = [Supply(kind=box("ten", "10"), at_hand=3), Supply(kind=box("hundred", "100"))]

    assert plain(choose([need(Use.FRESH, 27)], supplies, heat_c=75)) == {("fresh", "ten", 3, 0)}


def test_the_last_to_get_is_no_larger_than_it_must_be() -> None:
    supplies = [Supply(kind=box("twenty", "20")), Supply(kind=box("two", "2"))]

    found = choose([need(Use.FRESH, 37)], supplies, heat_c=75)

    assert plain(found) == {("fresh", "twenty", 0, 2), ("fresh", "two", 0, 1)}


def test_a_limited_larger_kind_is_used_as_far_as_it_goes() -> None:
    supplies = [Supply(kind=box("fifty", "50"), more=1), Supply(kind=box("ten", "10"))]

    found = choose([need(Use.FRESH, 60)], supplies, heat_c=75)

    assert plain(found) == {("fresh", "fifty", 0, 1), ("fresh", "ten", 0, 2)}


def test_bottles_that_bear_heat_are_kept_for_the_juice_that_is_heated() -> None:
    glass, plastic = box("glass", "10"), Kind(key="plastic", litres=Decimal(10), material=Material.HDPE)
    supplies = [Supply(kind=glass, at_hand=3, more=0), Supply(kind=plastic, at_hand=3, more=0)]

    found = choose([need(Use.FRESH, 27), need(Use.HEATED, 27)], supplies, heat_c=75)

    assert plain(found) == {("heated", "glass", 3, 0), ("fresh", "plastic", 3, 0)}
    assert (Use.HEATED, "plastic") in found.refused


def test_juice_without_a_container_is_refused_with_the_reasons() -> None:
    with pytest.raises(NotEnoughContainers) as refused:
        choose([need(Use.FRESH, 1), need(Use.HEATED, 10)], [Supply(kind=PET)], heat_c=75)

    assert refused.value.use is Use.HEATED
    assert [r.code for r in refused.value.refused["pet_2"]] == [RefusalCode.LIMIT_UNDER_HEAT]


def test_too_few_to_be_had_is_refused_too() -> None:
    with pytest.raises(NotEnoughContainers):
        choose([need(Use.FRESH, 28)], [Supply(kind=box("ten", "10"), at_hand=2, more=1)], heat_c=75)


def test_the_use_that_is_short_is_the_one_named() -> None:
    """What is at hand is fit for both; by the quick way the first use takes it, and the other goes short."""
    supplies = [Supply(kind=box("ten", "10"), at_hand=3, more=0)]

    with pytest.raises(NotEnoughContainers) as refused:
        choose([need(Use.HEATED, 18), need(Use.FRESH, 99)], supplies, heat_c=75)

    assert refused.value.use is Use.FRESH


def test_no_juice_needs_no_container() -> None:
    found = choose([need(Use.FRESH, 0)], [], heat_c=75)

    assert found.fillings == ()
    assert found.to_get == 0
    assert choose([need(Use.HEATED, 0)], [Supply(kind=PET)], heat_c=75).refused == {}


def test_juice_filled_in_warm_may_go_where_cold_juice_would_run_over() -> None:
    full = Kind(key="full", litres=Decimal(1), material=Material.GLASS, fill_fraction=Decimal("0.98"))

    assert choose([need(Use.HEATED, 9)], [Supply(kind=full)], heat_c=75, fill_c=40).to_get == 10
    with pytest.raises(NotEnoughContainers, match=r"^no container for all of the heated juice$"):
        choose([need(Use.HEATED, 9)], [Supply(kind=full)], heat_c=75)


def test_reused_bottles_keep_back_spares() -> None:
    found = choose([need(Use.HEATED, 300)], [Supply(kind=BOTTLE, at_hand=105)], heat_c=75)

    (filling,) = found.fillings
    assert filling.at_hand == 100
    assert filling.filled == -(-300 * 10**4 // 7488)
    assert filling.spares == 21
    assert filling.filled + filling.spares == -(-filling.filled * 105 // 100)
    assert filling.crates == -(-(filling.filled + filling.spares) // 12)
    assert filling.caps == filling.filled + filling.spares
    assert filling.full_kg == filling.filled * BOTTLE.full_kg(Use.HEATED)
    assert found.litres(Use.HEATED) >= 300
    assert found.litres(Use.FRESH) == 0
    assert isinstance(found.litres(Use.FRESH), Decimal)


def test_a_tub_has_no_cap() -> None:
    (filling,) = choose([need(Use.FROZEN, 9)], [Supply(kind=TUB)], heat_c=75).fillings

    assert filling.caps == 0
    assert filling.spares == 0
    assert filling.filled == 10


supplies = st.lists(
    st.tuples(
        st.integers(1, 40),
        st.sampled_from([Material.GLASS, Material.HDPE, Material.PET]),
        st.integers(0, 6),
        st.one_of(st.none(), st.integers(0, 4)),
    ),
    min_size=1,
    max_size=4,
).map(
    lambda rows: [
        Supply(
            kind=Kind(key=f"k{i}", litres=Decimal(litres) / 2, material=material, fill_fraction=Decimal("0.9")),
            at_hand=at_hand,
            more=more,
        )
        for i, (litres, material, at_hand, more) in enumerate(rows)
    ]
)
needs = st.dictionaries(st.sampled_from(list(Use)), st.integers(0, 60), min_size=1, max_size=3).map(
    lambda by_use: [need(use, litres) for use, litres in by_use.items()]
)


def least_by_solver(wanted: list[Need], had: list[Supply]) -> int | None:
    """The same problem as a mixed-integer programme: columns are (supply, need, at hand or to get)."""
    columns = [(s, n, price) for s in range(len(had)) for n in range(len(wanted)) for price in (0, 1)]
    holds, limits = np.zeros((len(wanted), len(columns))), np.zeros((2 * len(had), len(columns)))
    for c, (s, n, price) in enumerate(columns):
        if not refusals(had[s].kind, wanted[n].use, heat_c=75):
            holds[n, c] = float(had[s].kind.fill_litres(wanted[n].use))
        limits[2 * s + price, c] = 1
    counts = [x for s in had for x in (s.at_hand, np.inf if s.more is None else s.more)]
    found = milp(
        c=[price for _, _, price in columns],
        constraints=[
            LinearConstraint(holds, lb=[float(n.litres) - 1e-9 for n in wanted]),
            LinearConstraint(limits, ub=counts),
        ],
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 500),
    )
    return round(found.fun) if found.success else None


@given(needs, supplies)
@settings(max_examples=150, deadline=None)
def test_the_least_number_is_the_solvers(wanted: list[Need], had: list[Supply]) -> None:
    expected = least_by_solver(wanted, had)

    if expected is None:
        with pytest.raises(NotEnoughContainers):
            choose(wanted, had, heat_c=75)
        return
    found = choose(wanted, had, heat_c=75)

    assert found.least_proved
    assert found.to_get == expected
    for n in wanted:
        assert found.litres(n.use) >= n.litres
    for s in had:
        used = [f for f in found.fillings if f.kind.key == s.kind.key]
        assert sum(f.at_hand for f in used) <= s.at_hand
        assert s.more is None or sum(f.to_get for f in used) <= s.more
        assert not any(refusals(f.kind, f.use, heat_c=75) for f in used)


@given(st.integers(1, 5000), st.integers(0, 200))
@settings(deadline=None)
def test_more_juice_never_needs_fewer(litres: int, more: int) -> None:
    had = [Supply(kind=BOTTLE, at_hand=60), Supply(kind=CAN, at_hand=4)]

    def to_get(total: int) -> int:
        wanted = [need(Use.HEATED, total / 2), need(Use.FRESH, total / 2)]
        return choose(wanted, had, heat_c=75).to_get

    assert to_get(litres + more) >= to_get(litres)


def test_a_large_day_with_a_full_shed_is_answered_in_bounded_time() -> None:
    had = [Supply(kind=k, at_hand=200 + 17 * i) for i, k in enumerate(USUAL_KINDS)]
    wanted = [need(use, 2600 + 333 * i) for i, use in enumerate(Use)]

    began = perf_counter()
    found = choose(wanted, had, heat_c=75)

    assert perf_counter() - began < 10
    assert all(found.litres(n.use) >= n.litres for n in wanted)
