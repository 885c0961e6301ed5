"""How closely readings of the same fold repeat: the technical error of measurement, TEM; and what any
statistic here comes to: a number, an interval, or the reason why it cannot be given.

The numbers come from the frame of readings, which holds finite ones alone.

References
----------
.. [UlijaszekKerr1999] Ulijaszek & Kerr 1999, Br J Nutr 82:165-177.
.. [Perini2005] Perini et al. 2005, Rev Bras Med Esporte 11:81-90.

A third reading is taken only where the first two disagree, so it is no fair sample of error: give rounds 1
and 2 alone. A shift between rounds or people counts as error here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from statistics import fmean, variance

CONFIDENCE = 0.95
"""Of every interval but those of calipers, which share their chance of a false alarm."""


@dataclass(frozen=True, slots=True)
class Undefined:
    """A result that cannot be given.

    reason : why, a code word that the texts have a sentence for. values : what fills the places of that.
    """

    reason: str
    values: tuple[tuple[str, str | int | float], ...] = ()


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval. confidence : share of such intervals that hold the true value, from 0 to 1."""

    lower: float
    upper: float
    confidence: float = CONFIDENCE


@dataclass(frozen=True, slots=True)
class TechnicalError:
    """A technical error of measurement.

    value : TEM [mm]. mean : of all readings used, error and all [mm].
    degrees_of_freedom : readings less people.
    """

    value: float
    mean: float
    people: int
    degrees_of_freedom: int


def technical_error(people: Sequence[Sequence[float]]) -> TechnicalError:
    """Return the technical error of measurement from two or more readings a person.

    TEM = sqrt(sum over people of [sum M^2 - (sum M)^2 / K] / sum over people of (K - 1))

    people : one row a person, one at least: two or more readings of one site [mm], else ValueError.

    With K readings from each of N people the denominator is N(K - 1), as published [UlijaszekKerr1999]_;
    with two it is sqrt(sum d^2 / 2N) [Perini2005]_. Where some have fewer readings each person counts with
    the K there are (the pooled variance within people).

    Examples
    --------
    >>> error = technical_error([(10.0, 11.0, 12.0), (20.0, 20.0)])
    >>> round(error.value, 3), error.mean, error.people, error.degrees_of_freedom
    (0.816, 14.6, 2, 3)
    """
    degrees = sum(len(readings) - 1 for readings in people)
    squares = math.fsum(variance(readings) * (len(readings) - 1) for readings in people)
    mean = fmean(chain.from_iterable(people))
    return TechnicalError(math.sqrt(squares / degrees), mean, len(people), degrees)


def technical_error_interval(error: TechnicalError | Undefined) -> Interval | Undefined:
    """Return the 95 % interval of a TEM [mm]; of one that is not known, why.

    The degrees of freedom times the square of TEM over true TEM are chi-square. Validity: normal errors of
    the same size for everyone.
    """
    from scipy.special import chdtri

    if isinstance(error, Undefined):
        return error
    if error.people < 2:
        return Undefined("interval-two-people")
    if error.value == 0:
        return Undefined("all-repeat-exactly")
    degrees, tail = error.degrees_of_freedom, (1 - CONFIDENCE) / 2
    lower, upper = (error.value * math.sqrt(degrees / chdtri(degrees, share)) for share in (tail, 1 - tail))
    return Interval(lower, upper)


def relative_technical_error(error: TechnicalError | Undefined) -> float | Undefined:
    """Return the TEM as a percentage of the mean reading: 100 TEM / mean [%]. Source: [Perini2005]_.

    Undefined where the mean is not above the TEM: such a mean cannot be told from nought.
    """
    if isinstance(error, Undefined):
        return error
    return 100 * error.value / error.mean if error.mean > error.value else Undefined("mean-below-error")


def relative_interval(
    error: TechnicalError | Undefined, interval: Interval | Undefined
) -> Interval | Undefined:
    """Return the interval of a relative TEM [%], the mean reading taken as known."""
    if isinstance(error, Undefined) or isinstance(interval, Undefined):
        return error if isinstance(error, Undefined) else interval
    if error.mean <= error.value:
        return Undefined("mean-below-error")
    return Interval(100 * interval.lower / error.mean, 100 * interval.upper / error.mean)


def total_technical_error(within: float, between: float) -> float:
    """Return the total TEM [mm] of observers whose own two readings have one TEM `within`.

    total = sqrt((TEM1^2 + TEM2^2) / 2 + TEMbetween^2), with TEM1 = TEM2. Source: [UlijaszekKerr1999]_. A TEM
    between observers worked out from readings already holds a part of the observers' own error, so the total
    is at its upper side.

    Examples
    --------
    >>> total_technical_error(3.0, 4.0)
    5.0
    """
    return math.hypot(within, between)
