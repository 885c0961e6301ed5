"""Numbers inside texts made here, with the decimal sign of the language. Cells hold plain numbers."""

from collections.abc import Mapping

__all__ = ["DECIMAL_SIGN", "shown_number", "with_decimal_sign"]

DECIMAL_SIGN = "number.decimal"
"""Key of the sign among the texts."""


def with_decimal_sign(number: str, texts: Mapping[str, str]) -> str:
    """Return a number written with a point as the language writes it.

    Examples
    --------
    >>> with_decimal_sign("-0.50", {"number.decimal": ","}), with_decimal_sign("1.2", {})
    ('-0,50', '1.2')
    """
    return number.replace(".", texts.get(DECIMAL_SIGN, "."))


def shown_number(value: float, texts: Mapping[str, str]) -> str:
    """Return a number as short as it can be written.

    Examples
    --------
    >>> shown_number(0.5, {"number.decimal": ","}), shown_number(60.0, {})
    ('0,5', '60')
    """
    return with_decimal_sign(f"{value:g}", texts)
