"""Student's t distribution, worked out here because the site itself carries no statistics library.

The distribution function is the regularised incomplete beta function by its continued fraction (NIST Digital Library of
Mathematical Functions, 8.17); the quantile is found by bisection, since the function rises everywhere.
"""

from math import exp, lgamma, log

from kitshare.rules.water import require_between

_SMALL = 1e-300
_MOST_TERMS = 10_000


def _continued_fraction(a: float, b: float, x: float) -> float:
    """Sum the continued fraction of the incomplete beta function by the modified method of Lentz."""
    c, d = 1.0, 1.0 / _nudged(1.0 - (a + b) * x / (a + 1))
    total = d
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 / _nudged(1.0 + term * d)
            c = _nudged(1.0 + term / c)
            total *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return total


def _nudged(value: float) -> float:
    return value if abs(value) > _SMALL else _SMALL


def beta_share(a: float, b: float, x: float, rest: float) -> float:
    """Regularised incomplete beta function I_x(a, b), a and b positive; `rest` is 1 - x, given apart for its digits."""
    if x <= 0.0 or rest <= 0.0:
        return 0.0 if x <= 0.0 else 1.0
    front = exp(a * log(x) + b * log(rest) + lgamma(a + b) - lgamma(a) - lgamma(b))
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(a, b, x) / a
    return 1.0 - front * _continued_fraction(b, a, rest) / b


def upper_tail(t: float, freedom: float) -> float:
    """P(T > t) for t of zero or more and a positive number of degrees of freedom."""
    share = freedom / (freedom + t * t)
    return 0.5 * beta_share(freedom / 2, 0.5, share, t * t / (freedom + t * t))


def quantile(probability: float, freedom: float) -> float:
    """The t below which the probability lies, 0.0001 to 0.9999, for 0.5 to 1,000,000 degrees of freedom.

    Right to one part in 10**9. Raises `OutOfRange`.
    """
    require_between("probability", probability, 0.0001, 0.9999)
    require_between("freedom", freedom, 0.5, 1e6)
    tail = min(probability, 1 - probability)
    low, high = 0.0, 1.0
    while upper_tail(high, freedom) > tail:
        low, high = high, 2 * high
    while high - low > 1e-12 * high:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if upper_tail(middle, freedom) > tail:
            low = middle
        else:
            high = middle
    return -(low + high) / 2 if probability < 0.5 else (low + high) / 2
