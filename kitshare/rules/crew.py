"""Who stands where: helpers shared out over the stations so that the slowest is as quick as may be.

Every station has work that only the machine does and work that hands do; more hands shorten the second until no more
fit round the table. With fewer helpers than stations, one minds several neighbouring stations and gives each the share
of the time that its work asks for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from kitshare.rules.water import require_between

MOST_HELPERS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """The work of one station over the day, in minutes: of its machines, and of a single pair of hands."""

    machine_minutes: float
    hand_minutes: float
    most_hands: int

    def minutes(self, hands: float) -> float:
        """How long it takes with so many hands (a fraction is a helper who has other stations too)."""
        if self.hand_minutes == 0:
            return self.machine_minutes
        return max(self.machine_minutes, self.hand_minutes / min(hands, self.most_hands))


def share_out(duties: Sequence[Duty], helpers: int) -> tuple[float, ...]:
    """Hands at each station for 1 to 200 helpers. Raises `OutOfRange`.

    With enough helpers each station has one, and each further helper goes to the slowest station that hands can still
    speed up: the least possible slowest time, because each station's time only falls with hands. With fewer,
    neighbouring stations are grouped so that the busiest helper has the least to do.
    """
    require_between("helpers", helpers, 1, MOST_HELPERS)
    busy = [i for i, duty in enumerate(duties) if duty.hand_minutes > 0]
    if not busy:
        return (0.0,) * len(duties)
    hands = [0.0] * len(duties)
    if helpers < len(busy):
        for group in _grouped([duties[i].hand_minutes for i in busy], helpers):
            work = sum(duties[busy[i]].hand_minutes for i in group)
            for i in group:
                hands[busy[i]] = duties[busy[i]].hand_minutes / work
        return tuple(hands)
    for i in busy:
        hands[i] = 1.0
    for _ in range(helpers - len(busy)):
        open_places = [i for i in busy if hands[i] < duties[i].most_hands and _helps(duties[i], hands[i])]
        if not open_places:
            break
        slowest = max(open_places, key=lambda i: duties[i].minutes(hands[i]))
        hands[slowest] += 1
    return tuple(hands)


def _helps(duty: Duty, hands: float) -> bool:
    return duty.minutes(hands + 1) < duty.minutes(hands)


def _grouped(work: Sequence[float], groups: int) -> list[range]:
    """Cut a row into so many runs that the heaviest run is as light as may be. Rows are short: every cut is tried."""
    best: list[range] = []
    lightest = float("inf")
    for cuts in combinations(range(1, len(work)), groups - 1):
        edges = [0, *cuts, len(work)]
        runs = [range(a, b) for a, b in pairwise(edges)]
        heaviest = max(sum(work[i] for i in run) for run in runs)
        if heaviest < lightest:
            best, lightest = runs, heaviest
    return best
