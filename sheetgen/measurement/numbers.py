"""The number policy: every reading becomes a whole number of hundredths of a millimetre here, once.

All comparisons are made between these whole numbers, so 12.4 and 10.4 differ by exactly 2.0.
"""

from decimal import ROUND_HALF_UP, Decimal

_LARGEST = 1e9


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
