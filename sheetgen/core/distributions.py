"""Quantiles and tails of the t, F and chi-square distributions.

References
----------
.. [AbramowitzStegun] Abramowitz & Stegun 1964, Handbook of Mathematical Functions, chapter 26.

Accuracy, checked against scipy: quantiles to 1e-10 of their size, 1e-9 near the largest degrees of freedom.
"""

import math
from collections.abc import Callable

from sheetgen.core.incomplete_functions import incomplete_beta, incomplete_gamma

__all__ = ["chi_square_quantile", "chi_square_tail", "f_quantile", "t_quantile"]

_SMALLEST_DEGREES, _LARGEST_DEGREES = 0.5, 1e6
_SMALLEST_PROBABILITY = 1e-12
# exp(-150) to exp(150) holds every quantile within the stated ranges.
_LOGARITHM_REACH = 150.0
_SMALLEST_STEP = 1e-13
# Halving alone, the slowest course, leaves 3e-19 of the range after 70 steps.
_MOST_STEPS = 70


def _check(probability: float, *degrees: float) -> None:
    if not _SMALLEST_PROBABILITY <= probability <= 1 - _SMALLEST_PROBABILITY:
        raise ValueError(f"a probability must lie between 1e-12 and 1 - 1e-12, not {probability!r}")
    _check_degrees(*degrees)


def _check_degrees(*degrees: float) -> None:
    for value in degrees:
        if not _SMALLEST_DEGREES <= value <= _LARGEST_DEGREES:
            raise ValueError(f"degrees of freedom must lie between 0.5 and 1e6, not {value!r}")


def _quantile(below: float, above: float, tails: Callable[[float], tuple[float, float, float]]) -> float:
    """Return the value with these two tails, which add up to 1.

    Newton's steps on the logarithms of the smaller tail, which keeps its digits, and of the value; a step
    that leaves the range known to hold the value is replaced by halving that range.
    """
    low, high, place = -_LOGARITHM_REACH, _LOGARITHM_REACH, 0.0
    for _ in range(_MOST_STEPS):
        lower, upper, slope = tails(math.exp(place))
        tail, wanted, sign = (lower, below, 1) if below <= above else (upper, above, -1)
        low, high = (place, high) if (tail < wanted) == (sign > 0) else (low, place)
        step = -sign * tail * math.log(tail / wanted) / slope if tail > 0 and slope > 0 else math.inf
        if abs(step) < _SMALLEST_STEP:
            return math.exp(place + step)
        place = place + step if low < place + step < high else (low + high) / 2
    return math.exp(place)


def f_quantile(probability: float, degrees_above: float, degrees_below: float) -> float:
    """Return the value of F that a share `probability` of the distribution lies below.

    Parameters
    ----------
    probability : between 1e-12 and 1 - 1e-12.
    degrees_above, degrees_below : degrees of freedom of numerator and denominator, 0.5 to 1e6, any real.

    Raises
    ------
    ValueError : an argument is out of its range.

    Notes
    -----
    The lower tail is I_x(m/2, n/2) with x = mF/(mF + n): eq 26.6.2, [AbramowitzStegun].

    Examples
    --------
    >>> round(f_quantile(0.95, 5, 10), 4)
    3.3258
    """
    _check(probability, degrees_above, degrees_below)
    return _f_quantile(probability, 1 - probability, degrees_above, degrees_below)


def _f_quantile(below: float, above: float, degrees_above: float, degrees_below: float) -> float:
    """Return the value of F with these two tails, which add up to 1."""

    def tails(value: float) -> tuple[float, float, float]:
        ratio = degrees_above * value / degrees_below
        return incomplete_beta(degrees_above / 2, degrees_below / 2, 1 / (1 + 1 / ratio), 1 / (1 + ratio))

    return _quantile(below, above, tails)


def t_quantile(probability: float, degrees: float) -> float:
    """Return the value of Student's t that a share `probability` of the distribution lies below.

    t squared is F with 1 and n degrees of freedom. Ranges and errors as for `f_quantile`.

    Examples
    --------
    >>> round(t_quantile(0.975, 16), 3), t_quantile(0.5, 16)
    (2.12, 0.0)
    """
    _check(probability, degrees)
    if probability == 0.5:
        return 0.0
    tail = min(probability, 1 - probability)
    size = math.sqrt(_f_quantile(1 - 2 * tail, 2 * tail, 1, degrees))
    return math.copysign(size, probability - 0.5)


def chi_square_quantile(probability: float, degrees: float) -> float:
    """Return the value of chi-square that a share `probability` of the distribution lies below.

    Ranges and errors as for `f_quantile`. The lower tail is P(n/2, x/2): eq 26.4.19, [AbramowitzStegun].

    Examples
    --------
    >>> round(chi_square_quantile(0.95, 9), 3)
    16.919
    """
    _check(probability, degrees)
    return 2 * _quantile(probability, 1 - probability, lambda value: incomplete_gamma(degrees / 2, value))


def chi_square_tail(value: float, degrees: float) -> float:
    """Return the probability of a chi-square at least as large as `value` (from 0 up to 1e9).

    Examples
    --------
    >>> round(chi_square_tail(16.919, 9), 4), chi_square_tail(0, 9)
    (0.05, 1.0)
    """
    _check_degrees(degrees)
    if not 0 <= value <= 1e9:
        raise ValueError(f"a chi-square must lie between 0 and 1e9, not {value!r}")
    return incomplete_gamma(degrees / 2, value / 2)[1] if value > 0 else 1.0
