"""How many re-used bottles to bring over those that are filled, learned from the scheme's own press days.

Each bottle brought turns out broken, chipped or not clean with one unknown probability. The prior is a beta
distribution with the scheme's own figure as its mean; bottles counted are binomial, so the posterior is a beta
distribution too, and its mean is (a + broken) / (a + b + brought) (Gelman and others, Bayesian Data Analysis, third
edition, section 2.4, from memory).
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Self

from kitshare.rules.sizing_terms import BREAKAGE_ALLOWANCE, OutOfRange

PRIOR_BOTTLES = Decimal(600)
"""The scheme's own figure is trusted like so many bottles, those of about two usual days (our choice)."""

MOST_USUAL = Decimal("0.5")
MOST_OVER = Decimal(1)
"""Never more than as many again: whoever broke more wants other bottles, not more of them (our choice)."""

PLACES = Decimal("0.0001")


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakage:
    """What is believed of re-used bottles: `usual` over each one filled (0 to 0.5), and what `days` have shown since.

    `brought` were looked at on those days, and `broken` of them were broken, chipped or not clean. Raises `OutOfRange`.
    """

    usual: Decimal = BREAKAGE_ALLOWANCE
    brought: int = 0
    broken: int = 0
    days: int = 0

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not self.usual.is_finite() or not 0 <= self.usual <= MOST_USUAL:
            raise OutOfRange(field="usual", value=self.usual, bounds=(Decimal(0), MOST_USUAL))
        if not 0 <= self.broken <= self.brought:
            raise OutOfRange(field="broken", value=Decimal(self.broken), bounds=(Decimal(0), Decimal(self.brought)))

    @property
    def prior(self) -> tuple[Decimal, Decimal]:
        """The two parameters of the beta distribution before any day: bottles broken, and bottles whole."""
        whole = PRIOR_BOTTLES / (1 + self.usual)
        return PRIOR_BOTTLES - whole, whole

    @property
    def share(self) -> Decimal:
        """The mean of the posterior: the part of all bottles brought that is expected to be broken."""
        broken, _whole = self.prior
        return (broken + self.broken) / (PRIOR_BOTTLES + self.brought)

    @property
    def over(self) -> Decimal:
        """How many to bring over each one that is filled, to the fourth place: share / (1 - share), 1 at most."""
        if self.share * 2 >= 1:
            return MOST_OVER
        return (self.share / (1 - self.share)).quantize(PLACES, ROUND_HALF_UP)

    def seen(self, *, brought: int, broken: int) -> Self:
        """The belief after one day more. The order of days does not matter."""
        return type(self)(
            usual=self.usual, brought=self.brought + brought, broken=self.broken + broken, days=self.days + 1
        )
