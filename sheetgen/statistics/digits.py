"""Signs in the readings themselves: final digits, a thinner second round, gaps that chance explains."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.statistics.outcome import Undefined, checked_number

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


def _mean_excess(z: float) -> float:
    """Return the mean of max(Z - z, 0) for a standard normal Z: phi(z) - z (1 - Phi(z)), z from 0 up."""
    density = math.exp(-z * z / 2) / math.sqrt(math.tau)
    return max(density - z * math.erfc(z / math.sqrt(2)) / 2, 0.0)


def third_reading_chance_on_scale(error: float, rule: int, division: int) -> float:
    """Return how often two readings on a scale lie further apart than a rule; exactly met is within.

    Parameters
    ----------
    error : TEM [mm]. rule : the tolerance [0.01 mm], at least 0. division : of the scale [0.01 mm], above 0.

    Raises
    ------
    ValueError : an argument is out of its range.

    Notes
    -----
    Two readings whose errors differ by d lie k divisions apart with chance max(0, 1 - |d / division - k|):
    the place of the fold between two divisions is even. Summed over all k that break the rule and over d,
    with D the division, s = sqrt(2) TEM, m divisions the widest gap within the rule, and E(z) the mean of
    max(Z - z, 0): 2 s/D [E(m D / s) - E((m + 1) D / s)].

    Examples
    --------
    >>> round(third_reading_chance_on_scale(0.5, 100, 100), 3)
    0.049
    """
    if isinstance(division, bool) or not isinstance(division, int) or division < 1:
        raise ValueError(f"a scale division is a whole number of hundredths above 0, not {division!r}")
    spread = math.sqrt(2) * checked_number(error, "a technical error", lowest=0)
    if isinstance(rule, bool) or not isinstance(rule, int) or rule < 0:
        raise ValueError(f"a tolerance is a whole number of hundredths, at least 0, not {rule!r}")
    if spread == 0:
        return 0.0
    within = rule // division
    ratio = division / 100 / spread
    chance = 2 * (_mean_excess(within * ratio) - _mean_excess((within + 1) * ratio)) / ratio
    return min(max(chance, 0.0), 1.0)


def all_pairs_identical_chance(errors: Sequence[float], division: int) -> float:
    """Return the chance that an honest record has two equal readings at every site.

    Parameters
    ----------
    errors : TEM of each site of the record [mm]. division : of the scale [0.01 mm].

    Raises
    ------
    ValueError : there is no site, or an argument is out of its range.

    Notes
    -----
    1 less the chance of a third reading at a rule of 0, site by site; their errors are taken as independent.

    Examples
    --------
    >>> round(100 * all_pairs_identical_chance([0.4] * 7, 100), 1)
    1.9
    """
    if not errors:
        raise ValueError("a record needs at least one site")
    return math.prod(1 - third_reading_chance_on_scale(error, 0, division) for error in errors)
