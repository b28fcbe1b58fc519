"""Parts in a hundred, shared out so that they are whole and come to a hundred."""

from collections.abc import Sequence

HUNDRED = 100


def whole_percents(weights: Sequence[int]) -> tuple[int, ...]:
    """Whole parts in a hundred by weight, in the order of the weights; they sum to 100.

    Weights are 0 or more. Each weight gets its exact part rounded down; what is left goes one by
    one to the largest remainders, the earlier first where they are equal (the largest-remainder
    method of apportionment, as textbooks of voting have it). Raises ValueError for a negative
    weight, and when no weight is more than 0.
    """
    total = sum(weights)
    if total <= 0 or min(weights) < 0:
        raise ValueError(f"no shares by these weights: {list(weights)}")
    floors = [weight * HUNDRED // total for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda n: (-(weights[n] * HUNDRED % total), n))
    favoured = set(by_remainder[: HUNDRED - sum(floors)])
    return tuple(floor + (n in favoured) for n, floor in enumerate(floors))
