"""How many spares to keep on a shelf: from what was used up so far, with a chance of running out that people choose.

What is used up in a season is taken to be a Poisson count whose rate nobody knows. What is believed of the rate is a
gamma distribution, so after some seasons it is one again, and the count to come is negative binomial (Gelman and
others, Bayesian Data Analysis, section 2.6). A drive pin lost does not make the next one more likely to be lost: where
ten cloths tear at once, that is one bad day, and this model keeps too few.
"""

from dataclasses import dataclass
from math import exp, floor, log, log1p
from typing import Final, Self

from kitshare.rules.water import require_between

ONE_SEASON_IN: Final = 20
CHANCE: Final = 1 / ONE_SEASON_IN
"""Of running out before the next delivery: one season in twenty (our choice; each scheme sets its own)."""

LEAST_ONE_IN: Final = 2
MOST_ONE_IN: Final = 1000

PRIOR_A_SEASON: Final = 1.0
PRIOR_SEASONS: Final = 0.5
"""Before anything is recorded: one a season, trusted like half a season's record (our choice)."""

MOST_USED: Final = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """A gamma distribution of how many are used up in a season: mean shape / seasons. Raises `OutOfRange`."""

    shape: float
    seasons: float

    def __post_init__(self) -> None:
        """Refuse a distribution that is none."""
        require_between("shape", self.shape, 1e-9, 1e12)
        require_between("seasons", self.seasons, 1e-9, 1e12)

    def learned(self, *, used: int, seasons: float) -> Self:
        """The belief after so many (0 to 10,000) were used up in so many seasons (more than 0, to 100).

        The order of seasons does not matter. Raises `OutOfRange`.
        """
        require_between("used", used, 0, MOST_USED)
        require_between("seasons", seasons, 0.01, 100)
        return type(self)(shape=self.shape + used, seasons=self.seasons + seasons)


PRIOR: Final = Belief(shape=PRIOR_A_SEASON * PRIOR_SEASONS, seasons=PRIOR_SEASONS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """The least count whose chance of being too few is as low as was asked, and what that chance then is.

    `one_season_in` is the same chance in words: about one season in so many would need more.
    """

    count: int
    expected: float
    chance_of_more: float
    one_season_in: int


def horizon_seasons(*, lead_days: int, season_days: int) -> float:
    """The seasons that a shelf must last: one whole one, and the part in which a delivery is on its way.

    Lead time is 0 to 730 days, a season 7 to 366. Raises `OutOfRange`.
    """
    require_between("lead_days", lead_days, 0, 730)
    require_between("season_days", season_days, 7, 366)
    return 1 + lead_days / season_days


def keep(belief: Belief = PRIOR, *, horizon: float = 1.0, chance: float = CHANCE) -> Keep:
    """The smallest count s with P(used up within the horizon > s) at most the chance.

    The horizon is 0.01 to 110 seasons, the chance 0.001 to 0.5. Raises `OutOfRange`.
    """
    require_between("horizon", horizon, 0.01, 110)
    require_between("chance", chance, 0.001, 0.5)
    odds = horizon / belief.seasons
    log_of_next = log(odds) - log1p(odds)
    log_p = -belief.shape * log1p(odds)
    count, within = 0, exp(log_p)
    while 1 - within > chance:
        log_p += log((belief.shape + count) / (count + 1)) + log_of_next
        count += 1
        within += exp(log_p)
    more = max(1 - within, 0.0)
    one_in = floor(1 / max(more, 1e-6))
    return Keep(count=count, expected=belief.shape * odds, chance_of_more=more, one_season_in=one_in)
