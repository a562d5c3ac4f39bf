"""Prices: whole numbers of minor currency units inside, decimal text in major units outside."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Final

_MINOR_DIGITS: Final = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV"), 0),
    **dict.fromkeys(("XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
"""Currencies whose minor unit is not a hundredth (ISO 4217, from memory)."""


def minor_digits(currency: str) -> int:
    """Decimals of a currency by its ISO 4217 code: 2 for most, 0 for "JPY", 3 for "KWD"."""
    return _MINOR_DIGITS.get(currency, 2)


def parse_price(amount: str | int | Decimal, currency: str) -> int:
    """Minor units of an amount in major units, exactly: "187.50" in USD is 18750.

    Raises
    ------
    ValueError
        In words, when the text is no number, is below 0, or has more decimals than the currency.
    """
    try:
        value = Decimal(amount.strip() if isinstance(amount, str) else amount)
    except InvalidOperation:
        raise ValueError(f"'{amount}' is not a price; write it like \"187.50\"") from None
    if not value.is_finite():
        raise ValueError(f"'{amount}' is not a price; write it like \"187.50\"")
    if value < 0:
        raise ValueError(f"{amount} is below 0; a price is 0 or more")
    if value.adjusted() > 12:
        raise ValueError(f"{amount} is more than any sheet costs; check the decimal point")
    minor = value.scaleb(minor_digits(currency))
    if minor != minor.to_integral_value():
        raise ValueError(f"{amount} has more than {minor_digits(currency)} decimals, the most that {currency} has")
    return int(minor)


def format_price(minor: int, currency: str) -> str:
    """Amount in major units with all its decimals, without the currency: 18750 in USD is "187.50"."""
    return str(Decimal(minor).scaleb(-minor_digits(currency)).quantize(Decimal(1).scaleb(-minor_digits(currency))))
