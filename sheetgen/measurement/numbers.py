"""The number policy: every reading becomes a whole number of hundredths of a millimetre here, once.

All comparisons are made between these whole numbers, so 12.4 and 10.4 differ by exactly 2.0. And the
numbers that people type: in any script, with a unit.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

_LARGEST = 1e9

_UNITS = {
    "length": {"mm": "1", "cm": "10", "m": "1000", "in": "25.4", "inch": "25.4", "inches": "25.4"},
    "mass": {"kg": "1", "g": "0.001", "lb": "0.45359237", "lbs": "0.45359237"},
    "age": dict.fromkeys(("years", "year", "yrs", "yr", "y", "años", "año"), "1"),
    "density": {**dict.fromkeys(("g/ml", "g/cm3", "g/cm³", "g/cc", "kg/l"), "1"), "kg/m3": "0.001"},
    "percent": {"%": "1"},
}
"""What can be measured, and how much a unit of it is, as people write it."""

_NUMBER = re.compile(r"([+-]?)(\d{1,6}(?:[.,]\d{0,30})?|[.,]\d{1,30})\s*(\S{0,10})")
_SIGNS = {ord(letter): "-" for letter in "−–‐‑"} | {ord(letter): "." for letter in "·‧⋅∙٫。"}
_SQUARED = {ord("㎜"): "mm", ord("㎝"): "cm", ord("㎏"): "kg"}
_FULL_WIDTH = {letter: letter - 0xFEE0 for letter in range(0xFF01, 0xFF5F)}
_WRITTEN_OTHERWISE: dict[int, str | int] = {**_FULL_WIDTH, **_SIGNS, **_SQUARED}


@lru_cache(maxsize=4096, typed=True)
def hundredths(value: float) -> int:
    """Return a length as whole hundredths, rounded half away from zero from its decimal text.

    Parameters
    ----------
    value : a length [mm], or any other number kept to two decimals (per cent).

    Returns
    -------
    The number of hundredths [0.01 mm].

    Raises
    ------
    ValueError : the value is not finite, its size is above 1e9, or it is True or False.

    Notes
    -----
    The decimal text is what a person typed and what a spreadsheet's ROUND works from. Python's own
    `round` works from the binary value and rounds half to even, so it differs on near-ties.

    Examples
    --------
    >>> hundredths(12.4) - hundredths(10.4)
    200
    >>> hundredths(2.675), hundredths(-2.675)
    (268, -268)
    """
    if isinstance(value, bool) or not -_LARGEST <= value <= _LARGEST:
        raise ValueError(f"a length must be finite and at most 1e9 in size, not {value!r}")
    return int(Decimal(repr(float(value))).scaleb(2).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def millimetres(whole_hundredths: int) -> float:
    """Return hundredths of a millimetre as millimetres.

    Examples
    --------
    >>> millimetres(1240)
    12.4
    """
    return whole_hundredths / 100


def without_invisible(text: str) -> str:
    """Return a text without spaces of any kind at its ends, and without marks that have no width.

    Examples
    --------
    >>> without_invisible("\\u200b12.5\\u00a0")
    '12.5'
    """
    return "".join(letter for letter in text if unicodedata.category(letter) != "Cf").strip()


def fifteen_digits(value: float) -> float:
    """Return a number as a spreadsheet keeps it, to 15 digits.

    Examples
    --------
    >>> fifteen_digits(17.99999999999999), fifteen_digits(17.9999999999999)
    (18.0, 17.9999999999999)
    """
    return float(f"{value:.15g}")


@dataclass(frozen=True, slots=True)
class NumberInText:
    """A number as a person typed it. unit : as typed, in lower case; empty where none was."""

    number: Decimal
    unit: str

    def in_unit(self, unit: str) -> float | None:
        """Return the number in a unit, its own where none was typed; None where that cannot belong there.

        Examples
        --------
        >>> NumberInText(Decimal("1.5"), "cm").in_unit("mm"), NumberInText(Decimal("154"), "mm").in_unit("kg")
        (15.0, None)
        """
        if self.unit in ("", unit):
            return fifteen_digits(float(self.number))
        units = next(units for units in _UNITS.values() if unit in units)
        if self.unit not in units:
            return None
        return fifteen_digits(float(self.number * Decimal(units[self.unit]) / Decimal(units[unit])))


def number_in_text(text: str) -> NumberInText | None:
    """Return the number in a text, with its unit; None for "twelve", "~12", "12.5.1" and "12 apples".

    Digits of any script, a decimal comma, a raised point and signs of any kind are understood.

    Examples
    --------
    >>> number_in_text("１２．５"), number_in_text("12·5 mm").unit, number_in_text("about 12")
    (NumberInText(number=Decimal('12.5'), unit=''), 'mm', None)
    """
    plain = "".join(
        str(unicodedata.decimal(letter, letter))
        for letter in without_invisible(text).translate(_WRITTEN_OTHERWISE)
    )
    match = _NUMBER.fullmatch(plain)
    unit = match[3].casefold() if match else ""
    if match is None or not (unit == "" or any(unit in units for units in _UNITS.values())):
        return None
    return NumberInText(Decimal(match[1] + match[2].replace(",", ".")), unit)
