"""Time and money that went into a fault."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

# What one note may say was spent, in minutes and in the scheme's currency: more is a slip.
MOST_MINUTES: Final = 10_000
MOST_MONEY: Final = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Time and money spent on a fault, as far as somebody said; nothing spent is nothing said."""

    minutes: int | None = None
    money: Decimal | None = None

    @classmethod
    def of(cls, minutes: int | None, money: Decimal | None) -> "Spent":
        return cls(minutes=minutes or None, money=money or None)
