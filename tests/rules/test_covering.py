"""The search for the least number of containers, against an integer programme solved by HiGHS (through scipy)."""

import random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from kitshare.rules import covering
from kitshare.rules.covering import INFINITE, Group, Search


def some_problem(number):
    """Needs and groups as a village might have them, the same at each run: one to three needs, up to six groups."""
    dice = random.Random(number)
    needs = tuple(dice.randint(0, 60) for _ in range(dice.randint(1, 3)))
    groups = []
    for supply in range(dice.randint(1, 3)):
        holds = tuple(dice.choice((0, 1, 2, 3, 5, 8)) for _ in needs)
        if at_hand := dice.randint(0, 9):
            groups.append(Group(supply=supply, holds=holds, count=at_hand, price=0))
        if more := dice.choice((0, 4, 12, INFINITE)):
            groups.append(Group(supply=supply, holds=holds, count=more, price=1))
    return needs, [group for group in groups if any(group.holds)]


def least_by_solver(needs, groups):
    """The least number to get, None where the needs cannot be met."""
    columns = [(group, need) for group in groups for need in range(len(needs))]
    if not columns:
        return None if any(needs) else 0
    holds = np.array([[group.holds[n] if n == need else 0 for group, n in columns] for need in range(len(needs))])
    of_group = np.array([[group is other for group, _need in columns] for other in groups])
    found = milp(
        c=[group.price for group, _need in columns],
        constraints=[
            LinearConstraint(holds, lb=needs),
            LinearConstraint(of_group, ub=[min(group.count, 500) for group in groups]),
        ],
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 500),
    )
    return round(found.fun) if found.success else None


PROBLEMS = [some_problem(number) for number in range(120)]
LEAST = [least_by_solver(*problem) for problem in PROBLEMS]
# What all of them take: 27,986 as this was written. Whoever makes the bound stronger may write less here.
STEPS_TOGETHER = 28_000


def check(search, needs, groups):
    """That a plan meets each need, uses no more than there is, and costs what it says."""
    by_key = {(group.supply, group.price): group for group in groups}
    for need, wanted in enumerate(needs):
        assert sum(c * by_key[s, p].holds[n] for (s, n, p), c in search.best.items() if n == need) >= wanted
    for (supply, price), group in by_key.items():
        assert sum(c for (s, _n, p), c in search.best.items() if (s, p) == (supply, price)) <= group.count
    assert all(count > 0 and by_key[s, p].holds[n] for (s, n, p), count in search.best.items())
    assert search.best_price == sum(count * price for (_s, _n, price), count in search.best.items())


@pytest.mark.parametrize("number", range(len(PROBLEMS)))
def test_the_least_number_is_that_of_the_solver(number):
    needs, groups = PROBLEMS[number]
    search = Search(needs, groups)

    search.run()

    assert search.proved is True
    if LEAST[number] is None:
        assert search.best is None
    else:
        check(search, needs, groups)
        assert search.best_price == LEAST[number]


def test_there_are_problems_of_each_kind_among_them():
    assert LEAST.count(None) > 10
    assert LEAST.count(0) > 10
    assert sum(1 for least in LEAST if least) > 30


def test_the_bound_keeps_the_search_short():
    """A weaker bound gives the same answers later: on a machine of a village, too late."""
    steps = 0
    for needs, groups in PROBLEMS:
        search = Search(needs, groups)
        search.run()
        steps += search._steps

    assert steps <= STEPS_TOGETHER


@pytest.mark.parametrize("number", [n for n, least in enumerate(LEAST) if least][::4])
def test_a_search_that_is_cut_short_meets_the_needs_or_says_that_nothing_is_proved(number, monkeypatch):
    monkeypatch.setattr(covering, "MOST_STEPS", 1)
    needs, groups = PROBLEMS[number]
    search = Search(needs, groups)

    search.run()

    if search.best is not None:
        check(search, needs, groups)
        assert search.best_price >= LEAST[number]
    assert search.proved is False or search.best_price == LEAST[number]


def test_a_search_ends_at_its_steps_and_says_that_nothing_is_proved(monkeypatch):
    monkeypatch.setattr(covering, "MOST_STEPS", 5)
    searches = [Search(*problem) for problem in PROBLEMS]
    for search in searches:
        search.run()

    assert max(search._steps for search in searches) == 6
    assert sum(search.proved is False for search in searches) > 5


@pytest.mark.parametrize(("needs", "halved"), [(1, 0), (4, 0), (5, 1), (6, 2)])
def test_beyond_four_needs_each_halves_the_steps(needs, halved):
    search = Search((1,) * needs, [])

    assert search._most_steps == covering.MOST_STEPS // 2**halved


def test_no_need_needs_nothing():
    search = Search((), [Group(supply=0, holds=(), count=INFINITE, price=1)])

    search.run()

    assert (search.best, search.best_price, search.proved) == ({}, 0, True)


def test_of_needs_that_cannot_be_met_the_one_without_anything_endless_is_named_and_of_those_the_shortest():
    few = Group(supply=0, holds=(5, 0, 5), count=3, price=0)
    more = Group(supply=1, holds=(5, 0, 0), count=4, price=1)
    endless = Group(supply=2, holds=(0, 0, 2), count=INFINITE, price=1)

    assert Search((90, 10, 500), [few, more, endless]).hopeless() == 0  # 55 are left of it, and 10 of the next
    assert Search((40, 10, 500), [few, more, endless]).hopeless() == 1  # 5 are left of the first
    assert Search((15, 1, 500), [few, few, endless]).hopeless() == 1
    assert Search((500, 10), [Group(supply=0, holds=(1, 0), count=INFINITE, price=1)]).hopeless() == 1


def test_the_last_container_is_the_smallest_that_will_do():
    large, small = (Group(supply=n, holds=(hold,), count=INFINITE, price=1) for n, hold in enumerate((10, 3)))
    search = Search((23,), [large, small])

    search.run()

    assert search.best == {(0, 0, 1): 2, (1, 0, 1): 1}
    assert search.best_price == 3
