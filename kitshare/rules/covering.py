"""A small covering problem: several needs, containers of several sizes, the least number to get.

Whole numbers throughout. It is solved exactly by branch and bound within a fixed number of steps; when the steps run
out the answer still covers every need and says that a smaller one was not ruled out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

MOST_STEPS = 40_000
"""For up to four needs; each one more halves them, since it doubles the work of a step."""
INFINITE = 10**9

Plan = dict[tuple[int, int, int], int]
"""Containers by (supply, need, price)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Containers alike: what one holds for each need (0: unfit), how many there are, and the price of one (0 or 1).

    `count` is INFINITE for as many as wanted; those at hand (price 0) are never endless.
    """

    supply: int
    holds: tuple[int, ...]
    count: int
    price: int

    @property
    def fits(self) -> int:
        """How many needs it suits."""
        return sum(1 for hold in self.holds if hold)


class Search:
    """One search. After `run`, `best` is the plan (None if there is none) and `proved` whether it is the least."""

    def __init__(self, needs: tuple[int, ...], groups: Sequence[Group]) -> None:
        self.needs = needs
        # Those at hand first, the choosiest and largest of them in front: what is decided late should bend easily.
        limited = [g for g in groups if g.count != INFINITE]
        self.groups = sorted(limited, key=lambda g: (g.price, g.fits, -max(g.holds)))
        self.endless = [g for g in groups if g.count == INFINITE]
        self.best: Plan | None = None
        self.best_price = INFINITE
        self.proved = True
        self._steps = 0
        self._most_steps = MOST_STEPS >> max(len(needs) - 4, 0)
        self._seen: dict[tuple[int, tuple[int, ...]], int] = {}
        self._endless_hold = [max((g.holds[n] for g in self.endless), default=0) for n in range(len(needs))]
        self._prices = self._suffixes()

    def run(self) -> None:
        """Try the quick ways first: they are often as good as the bound, and then nothing is left to search."""
        if not self.needs:
            self.best, self.best_price = {}, 0
            return
        for order in permutations(range(len(self.needs))):
            self._greedy(order)
        self._branch(0, self.needs, 0, {})

    def hopeless(self) -> int:
        """A need that cannot be met, for the refusal: one that nothing endless suits, by what is left over of it."""
        left = list(self.needs)
        for group in self.groups:
            for need, hold in enumerate(group.holds):
                if hold and left[need] > 0:
                    left[need] -= hold * group.count
        return max(range(len(left)), key=lambda n: (not self._endless_hold[n], left[n]))

    def _suffixes(self) -> list[dict[tuple[int, ...], tuple[int, list[tuple[int, int]]]]]:
        """For each place in the order and each set of needs: what is at hand from there on, and what could be got."""
        everything = range(len(self.needs))
        sets = [c for size in range(1, len(self.needs) + 1) for c in combinations(everything, size)]
        found = []
        for first in range(len(self.groups) + 1):
            by_set: dict[tuple[int, ...], tuple[int, list[tuple[int, int]]]] = {}
            for together in sets:
                rest = [(g, max(g.holds[n] for n in together)) for g in (*self.groups[first:], *self.endless)]
                at_hand = sum(hold * g.count for g, hold in rest if g.price == 0)
                to_get = sorted(((hold, g.count) for g, hold in rest if g.price and hold), reverse=True)
                by_set[together] = at_hand, to_get
            found.append(by_set)
        return found

    def _greedy(self, order: Sequence[int]) -> None:
        left, price = list(self.needs), 0
        plan: Plan = {}
        for group in self.groups:
            count = group.count
            for need in order:
                if group.holds[need] and left[need] > 0 and self._worth(group, need):
                    taken = min(count, -(-left[need] // group.holds[need]))
                    if taken:
                        plan[group.supply, need, group.price] = taken
                    left[need] -= taken * group.holds[need]
                    count -= taken
                    price += taken * group.price
        self._finish(tuple(left), price, plan)

    def _worth(self, group: Group, need: int) -> bool:
        """Something to be had in a limited number is worth a look only if it is larger than what is endless."""
        return group.price == 0 or group.holds[need] > self._endless_hold[need]

    def _finish(self, left: tuple[int, ...], price: int, plan: Plan) -> None:
        """Meet what is left with the largest endless kind, the last of it with the smallest that will do."""
        plan = dict(plan)
        for need, short in enumerate(left):
            if short <= 0:
                continue
            fit = [g for g in self.endless if g.holds[need]]
            if not fit:
                return
            large = max(fit, key=lambda g: g.holds[need])
            number = -(-short // large.holds[need])
            rest = short - (number - 1) * large.holds[need]
            last = min((g for g in fit if g.holds[need] >= rest), key=lambda g: g.holds[need])
            for group, count in ((large, number - 1), (last, 1)):
                key = (group.supply, need, 1)
                if count:
                    plan[key] = plan.get(key, 0) + count
            price += number
        if price < self.best_price:
            self.best, self.best_price = plan, price

    def _bound(self, first: int, left: tuple[int, ...]) -> int:
        """No fewer than this many more must be got, whichever way the rest is shared out.

        For each set of needs together: what is at hand counts at its largest, then the largest to be had.
        """
        active = [n for n, short in enumerate(left) if short > 0]
        least = 0
        for size in range(1, len(active) + 1):
            for together in combinations(active, size):
                at_hand, to_get = self._prices[first][together]
                short, number = sum(left[n] for n in together) - at_hand, 0
                for hold, count in to_get:
                    if short <= 0:
                        break
                    taken = min(count, -(-short // hold))
                    number += taken
                    short -= taken * hold
                least = max(least, number if short <= 0 else INFINITE)
        return least

    def _branch(self, at: int, left: tuple[int, ...], price: int, plan: Plan) -> None:
        self._steps += 1
        if self._steps > self._most_steps:
            self.proved = False
            return
        if price + self._bound(at, left) >= self.best_price:
            return
        left = tuple(max(short, 0) for short in left)
        if self._seen.get((at, left), INFINITE) <= price:
            return
        self._seen[at, left] = price
        if at == len(self.groups):
            self._finish(left, price, plan)
            return
        group = self.groups[at]
        for counts in self._ways(group, left):
            rest = tuple(short - c * h for short, c, h in zip(left, counts, group.holds, strict=True))
            taken = {(group.supply, need, group.price): c for need, c in enumerate(counts) if c}
            self._branch(at + 1, rest, price + group.price * sum(counts), plan | taken)
            if not self.proved:
                return

    def _ways(self, group: Group, left: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """Every way to share a group out. What is at hand costs nothing: none is held back while it fits."""
        most = [
            -(-short // hold) if hold and short > 0 and self._worth(group, need) else 0
            for need, (short, hold) in enumerate(zip(left, group.holds, strict=True))
        ]
        full = min(group.count, sum(most)) if group.price == 0 else 0
        return self._shared(most, group.count, full)

    def _shared(self, most: list[int], count: int, least: int) -> Iterator[tuple[int, ...]]:
        """Lists of numbers up to `most` each, that sum to `least` or more and to `count` or less."""
        if not most:
            yield ()
            return
        others = sum(most[1:])
        for first in range(min(most[0], count), max(least - others, 0) - 1, -1):
            for rest in self._shared(most[1:], count - first, least - first):
                yield (first, *rest)
