"""How many containers to fill, and the least number to borrow or buy.

What the village has goes in first. The rest is a small covering problem: containers of several kinds, each fit for some
uses, against the litres of each use (`covering`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kitshare.rules.containers import FILL_TEMPERATURE_C, Kind, Refusal, Use, refusals
from kitshare.rules.covering import INFINITE, Group, Plan, Search
from kitshare.rules.sizing_terms import BREAKAGE_ALLOWANCE, CAP_ALLOWANCE

UNITS_PER_LITRE = 10_000
"""Volumes are whole tenths of a millilitre in the search: needs rounded up, containers rounded down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """So many of a kind at hand, and how many more could be had (None: as many as wanted)."""

    kind: Kind
    at_hand: int = 0
    more: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Litres of juice for one use, at the upper bound of what the day may give.

    `more_of` names the kinds of which more may be had for it; without it any will do. What is at hand always may.
    """

    use: Use
    litres: Decimal
    more_of: frozenset[str] | None = None


class NotEnoughContainers(ValueError):
    """No mix of what may be had holds the juice of a use; `refused` says which kinds were turned down, and why."""

    def __init__(self, use: Use, refused: dict[str, tuple[Refusal, ...]]) -> None:
        super().__init__(f"no container for all of the {use} juice")
        self.use = use
        self.refused = refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """Containers of one kind for one use: filled from what is at hand, and filled from what must be had."""

    use: Use
    kind: Kind
    at_hand: int
    to_get: int
    spares: int

    @property
    def filled(self) -> int:
        """How many are filled."""
        return self.at_hand + self.to_get

    @property
    def litres(self) -> Decimal:
        """Litres that they hold when filled to their level."""
        return self.filled * self.kind.fill_litres(self.use)

    @property
    def crates(self) -> int:
        """Crates for those filled and the spares."""
        return -(-(self.filled + self.spares) // self.kind.per_crate)

    @property
    def caps(self) -> int:
        """Caps, one in twenty over for those that will not close (common practice, no source)."""
        return math.ceil(self.filled * (1 + CAP_ALLOWANCE)) if self.kind.capped else 0

    @property
    def full_kg(self) -> Decimal:
        """Weight of all that are filled."""
        return self.filled * self.kind.full_kg(self.use)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What to fill. `to_get` is the least number to borrow or buy; spares for breakage come on top.

    Where `least_proved` is False the search was cut short, and one or two fewer might do.
    """

    fillings: tuple[Filling, ...]
    refused: dict[tuple[Use, str], tuple[Refusal, ...]]
    least_proved: bool

    @property
    def to_get(self) -> int:
        """Containers to borrow or buy, spares not counted."""
        return sum(f.to_get for f in self.fillings)

    def litres(self, use: Use) -> Decimal:
        """Litres that the containers of a use hold."""
        return sum((f.litres for f in self.fillings if f.use is use), Decimal(0))


def choose(
    needs: Sequence[Need],
    supplies: Sequence[Supply],
    *,
    heat_c: float,
    fill_c: float = FILL_TEMPERATURE_C,
    breakage: Decimal = BREAKAGE_ALLOWANCE,
) -> Choice:
    """Choose containers for every use so that the least number has to be borrowed or bought.

    Of re-used kinds `breakage` over each one filled is kept back of those at hand, and got on top of the others. Kinds
    are named once, uses as often as there are wishes for them. Raises `NotEnoughContainers`.
    """
    wanted = [n for n in needs if n.litres > 0]
    refused = {
        (n.use, s.kind.key): why
        for n in wanted
        for s in supplies
        if (why := refusals(s.kind, n.use, heat_c=heat_c, fill_c=fill_c))
    }
    groups = [
        group for index, supply in enumerate(supplies) for group in _groups(index, supply, wanted, refused, breakage)
    ]
    search = Search(tuple(math.ceil(n.litres * UNITS_PER_LITRE) for n in wanted), groups)
    search.run()
    if search.best is None:
        use = wanted[search.hopeless()].use
        raise NotEnoughContainers(use, {k: why for (u, k), why in refused.items() if u is use})
    fillings = _fillings(search.best, wanted, supplies, breakage)
    return Choice(fillings=fillings, refused=refused, least_proved=search.proved)


def _groups(
    index: int,
    supply: Supply,
    needs: Sequence[Need],
    refused: dict[tuple[Use, str], tuple[Refusal, ...]],
    breakage: Decimal,
) -> list[Group]:
    kind = supply.kind
    holds = tuple(0 if (n.use, kind.key) in refused else int(kind.fill_litres(n.use) * UNITS_PER_LITRE) for n in needs)
    wished = tuple(
        hold if n.more_of is None or kind.key in n.more_of else 0 for n, hold in zip(needs, holds, strict=True)
    )
    usable = int(supply.at_hand / (1 + breakage)) if kind.reused else supply.at_hand
    more = INFINITE if supply.more is None else supply.more
    both = ((holds, usable, 0), (wished, more, 1))
    return [
        Group(supply=index, holds=fit, count=count, price=price) for fit, count, price in both if any(fit) and count > 0
    ]


def _fillings(plan: Plan, needs: Sequence[Need], supplies: Sequence[Supply], breakage: Decimal) -> tuple[Filling, ...]:
    numbers: dict[tuple[Use, int], list[int]] = {}
    for need, wanted in enumerate(needs):
        for index in range(len(supplies)):
            both = numbers.setdefault((wanted.use, index), [0, 0])
            for price in (0, 1):
                both[price] += plan.get((index, need, price), 0)
    found: list[Filling] = []
    for (use, index), (at_hand, to_get) in numbers.items():
        kind, filled = supplies[index].kind, at_hand + to_get
        if filled:
            spares = math.ceil(filled * (1 + breakage)) - filled if kind.reused else 0
            found.append(Filling(use=use, kind=kind, at_hand=at_hand, to_get=to_get, spares=spares))
    return tuple(found)
