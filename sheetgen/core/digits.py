"""Signs in the readings themselves: final digits that pile up, a second round thinner everywhere."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.core.outcome import Undefined

__all__ = ["DigitCounts", "DigitTest", "SignTest", "digit_counts", "digit_test", "final_digits", "sign_test"]

# Common practice: the chi-square approximation holds from 5 expected in each class.
_LEAST_EXPECTED = 5


@dataclass(frozen=True, slots=True)
class DigitCounts:
    """How often each final digit that the scale can show was written.

    digits, counts : side by side. off_scale : readings the scale cannot show, not among the counts.
    """

    digits: tuple[int, ...]
    counts: tuple[int, ...]
    off_scale: int


@dataclass(frozen=True, slots=True)
class DigitTest:
    """Chi-square test that all final digits are equally frequent. expected : readings a digit."""

    chi_square: float
    degrees_of_freedom: int
    expected: float
    probability: float


@dataclass(frozen=True, slots=True)
class SignTest:
    """How many second readings are lower, higher, equal; the chance of so many lower or more."""

    lower: int
    higher: int
    equal: int
    probability: float


def _unit(division: int) -> int:
    """Return the place of the last digit of a scale [0.01 mm]: the largest power of ten in its division."""
    if isinstance(division, bool) or not isinstance(division, int) or division < 1:
        raise ValueError(f"a scale division is a whole number of hundredths above 0, not {division!r}")
    unit = 1
    while division % (unit * 10) == 0:
        unit *= 10
    if 10 * unit % division:
        raise ValueError(f"a scale division is 1, 2 or 5 times a power of ten, not {division / 100:g} mm")
    return unit


def final_digits(division: int) -> tuple[int, ...]:
    """Return the final digits that a scale can show.

    Parameters
    ----------
    division : of the scale [0.01 mm]: 1, 2 or 5 times a power of ten.

    Raises
    ------
    ValueError : the division is none of these.

    Examples
    --------
    >>> final_digits(20), final_digits(50), len(final_digits(100))
    ((0, 2, 4, 6, 8), (0, 5), 10)
    """
    return tuple(range(0, 10, division // _unit(division)))


def digit_counts(readings: Sequence[int], division: int) -> DigitCounts:
    """Count the final digits of raw readings.

    Parameters
    ----------
    readings : as read off the scale, zero not deducted [0.01 mm]. division : of the scale [0.01 mm].

    Raises
    ------
    ValueError : a reading is no whole number, or the division is none that is known.

    Notes
    -----
    The final digit is that of the scale: tenths at 0.1, 0.2 and 0.5 mm, whole millimetres at 1 mm.

    Examples
    --------
    >>> digit_counts([1200, 1250, 1300, 1320], 50)
    DigitCounts(digits=(0, 5), counts=(2, 1), off_scale=1)
    """
    unit, digits = _unit(division), final_digits(division)
    counts = dict.fromkeys(digits, 0)
    off_scale = 0
    for reading in readings:
        if isinstance(reading, bool) or not isinstance(reading, int):
            raise ValueError(f"a reading is a whole number of hundredths, not {reading!r}")
        if reading % division:
            off_scale += 1
        else:
            counts[abs(reading) // unit % 10] += 1
    return DigitCounts(digits, tuple(counts.values()), off_scale)


def digit_test(counted: DigitCounts) -> DigitTest | Undefined:
    """Test whether the final digits are equally frequent: chi-square = sum (count - expected)^2 / expected.

    Notes
    -----
    Validity: one reading a fold (two of one fold are not independent, so give the first round), and folds
    that spread over more than ten steps of the last digit: at a 1 mm scale thin folds keep to a few.

    Examples
    --------
    >>> result = digit_test(DigitCounts((0, 5), (70, 30), 0))
    >>> result.chi_square, result.degrees_of_freedom, result.expected, f"{result.probability:.2e}"
    (16.0, 1, 50.0, '6.33e-05')
    """
    from scipy.special import chdtrc

    classes = len(counted.digits)
    expected = sum(counted.counts) / classes
    if expected < _LEAST_EXPECTED:
        values = (("digits", classes), ("needed", _LEAST_EXPECTED * classes), ("there", sum(counted.counts)))
        return Undefined("few-digits", values)
    chi_square = math.fsum((count - expected) ** 2 for count in counted.counts) / expected
    return DigitTest(chi_square, classes - 1, expected, float(chdtrc(classes - 1, chi_square)))


def sign_test(gaps: Sequence[float]) -> SignTest | Undefined:
    """Test whether second readings are lower than the first more often than chance: a compressed fold.

    Parameters
    ----------
    gaps : second less first reading, of every pair that has both.

    Returns
    -------
    Exact one-sided binomial probability; equal pairs take no side and are left out of it.

    Examples
    --------
    >>> sign_test([-0.5] * 7)
    SignTest(lower=7, higher=0, equal=0, probability=0.0078125)
    """
    from scipy.special import bdtrc

    lower, higher = sum(gap < 0 for gap in gaps), sum(gap > 0 for gap in gaps)
    if lower + higher == 0:
        return Undefined("no-pair-differs")
    chance = float(bdtrc(lower - 1, lower + higher, 0.5)) if lower else 1.0
    return SignTest(lower, higher, len(gaps) - lower - higher, chance)
