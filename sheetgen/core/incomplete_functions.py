"""The incomplete beta and gamma functions that the tails of the t, F and chi-square distributions are.

References
----------
.. [DLMF] NIST Digital Library of Mathematical Functions, chapters 5 and 8.

Parameters up to 1e6 are settled within the terms allowed here; larger ones may raise ArithmeticError.
"""

import math
from collections.abc import Callable

__all__ = ["incomplete_beta", "incomplete_gamma"]

_TINY = 1e-300
_PRECISION = 1e-15
# A continued fraction needs about the square root of its parameters in terms: 1,000 at 1e6.
_MOST_TERMS = 20_000


def _continued_fraction(first: float, term: Callable[[int], tuple[float, float]]) -> float:
    """Return first + a1/(b1 + a2/(b2 + ...)) with (a, b) from term(1), term(2), ...

    Modified Lentz algorithm (Thompson & Barnett 1986, J Comput Phys 64:490-509).
    """
    value = first or _TINY
    above, below = value, 0.0
    for step in range(1, _MOST_TERMS):
        numerator, denominator = term(step)
        below = 1 / ((denominator + numerator * below) or _TINY)
        above = (denominator + numerator / above) or _TINY
        change = above * below
        value *= change
        if abs(change - 1) < _PRECISION:
            return value
    raise ArithmeticError("a continued fraction did not settle")


def _beta_terms(a: float, b: float, x: float) -> Callable[[int], tuple[float, float]]:
    """Return the terms of the incomplete beta fraction: [DLMF] 8.17.22 and 8.17.23."""

    def term(step: int) -> tuple[float, float]:
        half, odd = divmod(step, 2)
        if odd:
            return -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1)), 1.0
        return half * (b - half) * x / ((a + 2 * half - 1) * (a + 2 * half)), 1.0

    return term


def _stirling_rest(a: float) -> float:
    """Return lgamma(a) less its leading part (a - 1/2) log a - a + log(2 pi) / 2: [DLMF] 5.11.1."""
    if a < 20:
        return math.lgamma(a) - ((a - 0.5) * math.log(a) - a + math.log(math.tau) / 2)
    square = 1 / (a * a)
    return (1 / 12 - square * (1 / 360 - square * (1 / 1260 - square / 1680))) / a


def incomplete_beta(a: float, b: float, x: float, rest: float) -> tuple[float, float, float]:
    """Return the regularised I_x(a, b), 1 - I_x(a, b), and the slope of I by log(x / (1 - x)).

    Parameters
    ----------
    a, b : above 0. x, rest : above 0, x + rest = 1; both are given, so that neither loses digits near 1.

    Examples
    --------
    >>> [round(value, 4) for value in incomplete_beta(2, 3, 0.25, 0.75)]
    [0.2617, 0.7383, 0.3164]
    """
    both = a + b
    # x^a (1-x)^b / B(a, b), the large parts of the three gamma functions set off against the powers.
    log_front = (
        a * math.log(x * both / a)
        + b * math.log(rest * both / b)
        + math.log(a / both * b / math.tau) / 2
        + _stirling_rest(both)
        - _stirling_rest(a)
        - _stirling_rest(b)
    )
    front = math.exp(log_front)
    # The fraction settles fast below the mean; above it the mirror image I_{1-x}(b, a) is taken, 8.17.4.
    if x < (a + 1) / (a + b + 2):
        lower = front / (a * _continued_fraction(1.0, _beta_terms(a, b, x)))
        return lower, 1 - lower, front
    upper = front / (b * _continued_fraction(1.0, _beta_terms(b, a, rest)))
    return 1 - upper, upper, front


def incomplete_gamma(a: float, x: float) -> tuple[float, float, float]:
    """Return the regularised P(a, x), Q(a, x), and the slope of P by log(x); a and x above 0.

    Examples
    --------
    >>> [round(value, 4) for value in incomplete_gamma(1, 2)]
    [0.8647, 0.1353, 0.2707]
    """
    # x^a exp(-x) / Gamma(a)
    front = math.exp(a * math.log(x / a) + a - x + math.log(a / math.tau) / 2 - _stirling_rest(a))
    if x < a + 1:
        # [DLMF] 8.11.4
        total = term = 1 / a
        step = a
        while term > total * _PRECISION:
            step += 1
            term *= x / step
            total += term
        return front * total, 1 - front * total, front
    # [DLMF] 8.9.2 in its even form
    fraction = _continued_fraction(x + 1 - a, lambda step: (-step * (step - a), x + 2 * step + 1 - a))
    return 1 - front / fraction, front / fraction, front
