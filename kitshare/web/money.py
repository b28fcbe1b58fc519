"""How money is written: two decimals, and the currency in the scheme's own words."""

from decimal import Decimal

from django.utils.formats import number_format


def money_in_words(amount: Decimal, currency: str) -> str:
    """Such as "1,234.50 euros"; without a currency the bare amount."""
    return f"{number_format(amount.quantize(Decimal('0.01')), use_l10n=True, force_grouping=True)} {currency}".strip()
