"""Juice from a kilogram of fruit, as a distribution that learns from the scheme's own press days.

Days scatter about a mean like a normal distribution whose mean and variance are both unknown; the prior is
normal-inverse-gamma, so the posterior is too, and the next day is a Student t (Murphy, Conjugate Bayesian analysis of
the Gaussian distribution, 2007, sections 3.3 and 6). Yields are litres per kilogram of fruit pressed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from typing import Self

from kitshare.rules import student_t
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE, YIELD_EXPECTED, YIELD_HIGH, YIELD_LOW
from kitshare.rules.water import require_between

LEAST_YIELD, MOST_YIELD = 0.05, 1 / float(JUICE_KG_PER_LITRE)
"""No press gives more than the fruit's whole mass as juice; below the least a record is a slip of the pen."""

PRIOR_DAYS = 2.0
"""The published range is trusted like two of the scheme's own days in the mean (our choice)."""

PRIOR_FREEDOM = 4.0
"""And like four in the spread between days (our choice)."""

NINE_IN_TEN = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """Normal-inverse-gamma: given the variance the mean is N(mean, variance / weight); the variance is IG(shape,
    scale).
    """

    mean: float
    weight: float
    shape: float
    scale: float
    days: int = 0

    def __post_init__(self) -> None:
        """Refuse a distribution that is none, with `OutOfRange`."""
        for name in ("weight", "shape", "scale"):
            require_between(name, getattr(self, name), 1e-12, 1e9)

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the next day's Student t."""
        return 2 * self.shape

    @property
    def spread(self) -> float:
        """Scale of the next day's Student t: sqrt(scale (weight + 1) / (shape weight))."""
        return sqrt(self.scale * (self.weight + 1) / (self.shape * self.weight))

    def learned(self, yields: Sequence[float]) -> Self:
        """The belief after these days. The order of days does not matter, and a list may be taken in parts."""
        count = len(yields)
        if not count:
            return self
        seen = fsum(yields) / count
        weight = self.weight + count
        squares = fsum((y - seen) ** 2 for y in yields)
        return type(self)(
            mean=(self.weight * self.mean + count * seen) / weight,
            weight=weight,
            shape=self.shape + count / 2,
            scale=self.scale + squares / 2 + self.weight * count * (seen - self.mean) ** 2 / (2 * weight),
            days=self.days + count,
        )

    def interval(self, probability: float = NINE_IN_TEN) -> tuple[float, float]:
        """Bounds between which the next day falls with this probability (0.01 to 0.999), unbounded by physics.

        Raises `OutOfRange`.
        """
        require_between("probability", probability, 0.01, 0.999)
        reach = student_t.quantile((1 + probability) / 2, self.freedom) * self.spread
        return self.mean - reach, self.mean + reach


def prior_from_range(*, low: float, expected: float, high: float, probability: float = NINE_IN_TEN) -> Belief:
    """Turn a published range into a belief whose interval is centred on `expected` and reaches the farther end.

    The nearer end is then overreached, which errs to more containers and to less promised. Yields lie between 0.05 and
    0.9556. Raises `OutOfRange`.
    """
    require_between("expected", expected, LEAST_YIELD, MOST_YIELD)
    require_between("low", low, LEAST_YIELD, expected)
    require_between("high", high, expected, MOST_YIELD)
    reach = max(high - expected, expected - low, 0.001)
    shape = PRIOR_FREEDOM / 2
    spread = reach / student_t.quantile((1 + probability) / 2, PRIOR_FREEDOM)
    scale = spread**2 * shape * PRIOR_DAYS / (PRIOR_DAYS + 1)
    return Belief(mean=expected, weight=PRIOR_DAYS, shape=shape, scale=scale)


PUBLISHED = prior_from_range(low=float(YIELD_LOW), expected=float(YIELD_EXPECTED), high=float(YIELD_HIGH))
"""What is believed of an electric mill and a rack-and-cloth press before the scheme has pressed anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedDay:
    """What one recorded press day gave. `litres_per_kg` is 0.05 to 0.9556; raises `OutOfRange`."""

    litres_per_kg: float
    machine: str = ""
    fruit: str = ""
    village: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot have been."""
        require_between("litres_per_kg", self.litres_per_kg, LEAST_YIELD, MOST_YIELD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The days that a forecast rests on, and by what they are alike (`machine`, `fruit`, `village`)."""

    days: tuple[PressedDay, ...]
    alike_by: tuple[str, ...]


NARROWING = (
    ("machine", "fruit", "village"),
    ("machine", "fruit"),
    ("machine", "village"),
    ("machine",),
    (),
)
ENOUGH_DAYS = 3


def evidence(
    days: Sequence[PressedDay], *, machine: str = "", fruit: str = "", village: str = "", enough: int = ENOUGH_DAYS
) -> Evidence:
    """The days most like the one ahead, if there are enough of them; else the next wider circle, at last all days."""
    wanted = {"machine": machine, "fruit": fruit, "village": village}
    for alike_by in NARROWING:
        found = tuple(d for d in days if all(wanted[name] == getattr(d, name) for name in alike_by))
        if all(wanted[name] for name in alike_by) and (len(found) >= enough or not alike_by):
            return Evidence(days=found, alike_by=alike_by)
    raise AssertionError("the widest circle takes every day")


@dataclass(frozen=True, slots=True, kw_only=True)
class JuiceForecast:
    """Litres of juice to expect: between `low` and `high` with the probability given, resting on so many days."""

    low: float
    expected: float
    high: float
    probability: float
    days: int
    yield_low: float
    yield_expected: float
    yield_high: float


def forecast(fruit_kg: float, belief: Belief = PUBLISHED, probability: float = NINE_IN_TEN) -> JuiceForecast:
    """Litres to expect from a mass of fruit, a gram to 20,000 kg. Bounds are cut to what a press can give.

    Raises `OutOfRange`.
    """
    require_between("fruit_kg", fruit_kg, 0.001, 20_000.0)
    low, high = (min(max(bound, LEAST_YIELD), MOST_YIELD) for bound in belief.interval(probability))
    expected = min(max(belief.mean, low), high)
    return JuiceForecast(
        low=fruit_kg * low,
        expected=fruit_kg * expected,
        high=fruit_kg * high,
        probability=probability,
        days=belief.days,
        yield_low=low,
        yield_expected=expected,
        yield_high=high,
    )
