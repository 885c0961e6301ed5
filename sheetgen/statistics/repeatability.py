"""How closely readings of the same fold repeat: the technical error of measurement, TEM; how measurers of the
same people agree: limits of agreement of two, intraclass correlation of several; and what any statistic here
comes to: a number, an interval, or the reason why it cannot be given.

The numbers come from the frame of readings, which holds finite ones alone. A third reading is taken only
where the first two disagree, so it is no fair sample of error: give rounds 1 and 2 alone. A shift between
rounds or people counts as error here.

References
----------
.. [UlijaszekKerr1999] Ulijaszek & Kerr 1999, Br J Nutr 82:165-177.
.. [Perini2005] Perini et al. 2005, Rev Bras Med Esporte 11:81-90.
.. [BlandAltman1986] Bland & Altman 1986, Lancet 1:307-310.
.. [BlandAltman1999] Bland & Altman 1999, Stat Methods Med Res 8:135-160.
.. [ShroutFleiss1979] Shrout & Fleiss 1979, Psychol Bull 86:420-428.
.. [McGrawWong1996] McGraw & Wong 1996, Psychol Methods 1:30-46.
.. [Gore2000] Gore et al. in Norton & Olds 2000. From memory.
.. [Weir2005] Weir 2005, J Strength Cond Res 19:231-240. From memory.
.. [Satterthwaite1946] Satterthwaite 1946, Biometrics Bull 2:110-114. From memory.
"""

import math
from collections.abc import Sequence
from itertools import chain
from statistics import fmean, stdev, variance
from typing import Any, Literal

from msgspec import Struct

CONFIDENCE = 0.95
"""Of every interval but those of calipers, which share their chance of a false alarm."""
_UPPER = (1 + CONFIDENCE) / 2
_NORMAL = 1.96
"""Standard deviations to both sides of the mean that hold 95 % of normal values."""
# Rounding leaves squares of about (1e-16 of the largest reading)^2 where the mean square is nought.
_ROUNDING = 1e-13


class Undefined(Struct, frozen=True):
    """A result that cannot be given. reason : why, by the code word of its sentence. values : its places."""

    reason: str
    values: tuple[tuple[str, str | int | float], ...] = ()


class Interval(Struct, frozen=True):
    """A confidence interval. confidence : share of such intervals that hold the true value, from 0 to 1."""

    lower: float
    upper: float
    confidence: float = CONFIDENCE


class TechnicalError(Struct, frozen=True):
    """A technical error of measurement. value : TEM [mm]. mean : of all readings used, error and all [mm].
    degrees_of_freedom : readings less people."""

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

    >>> error = technical_error([(10.0, 11.0, 12.0), (20.0, 20.0)])
    >>> round(error.value, 3), error.mean, error.people, error.degrees_of_freedom
    (0.816, 14.6, 2, 3)
    """
    degrees = sum(len(readings) - 1 for readings in people)
    squares = math.fsum(variance(readings) * (len(readings) - 1) for readings in people)
    mean = fmean(chain.from_iterable(people))
    return TechnicalError(math.sqrt(squares / degrees), mean, len(people), degrees)


def technical_error_interval(error: TechnicalError | Undefined) -> Interval | Undefined:
    """Return the 95 % interval of a TEM [mm]; of one that is not known, why. The degrees of freedom times the
    square of TEM over true TEM are chi-square. Validity: normal errors of the same size for everyone."""
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
    Undefined where the mean is not above the TEM: such a mean cannot be told from nought."""
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

    >>> total_technical_error(3.0, 4.0)
    5.0
    """
    return math.hypot(within, between)


class Agreement(Struct, frozen=True):
    """Mean difference and limits of agreement, in the unit of the readings.
    multiplier : limits = mean difference -+ multiplier x standard deviation of the differences.
    *_interval : of the mean difference and of each limit."""

    pairs: int
    mean_difference: float
    standard_deviation: float
    multiplier: float
    lower_limit: float
    upper_limit: float
    mean_interval: Interval | Undefined
    lower_interval: Interval | Undefined
    upper_interval: Interval | Undefined


def agreement(differences: Sequence[float], multiplier: float = _NORMAL) -> Agreement:
    """Return mean difference and limits of agreement with their 95 % intervals.

    differences : of the two readings of each person, two people at least.
    multiplier : 1.96 for 95 % of differences; [BlandAltman1986]_ has 2.

    Intervals by Student's t with n - 1 degrees of freedom: SD / sqrt(n) is the error of the mean difference,
    SD sqrt(1/n + m^2 / (2(n - 1))) that of a limit with multiplier m [BlandAltman1999]_; the 1986 paper has
    sqrt(3/n), which is nearly the same for m = 2.
    Validity: one pair a person, differences about normal and of the same size for thin and thick folds.

    >>> result = agreement([1.0, 0.0, 2.0], multiplier=2)
    >>> result.mean_difference, result.lower_limit, result.upper_limit
    (1.0, -1.0, 3.0)
    """
    from scipy.special import stdtrit

    count, mean, deviation = len(differences), fmean(differences), stdev(differences)
    quantile = float(stdtrit(count - 1, _UPPER))
    of_mean = quantile * deviation / math.sqrt(count)
    of_limit = quantile * deviation * math.sqrt(1 / count + multiplier**2 / (2 * (count - 1)))

    def interval(centre: float, reach: float) -> Interval | Undefined:
        return Interval(centre - reach, centre + reach) if deviation else Undefined("differences-alike")

    lower, upper = mean - multiplier * deviation, mean + multiplier * deviation
    intervals = interval(mean, of_mean), interval(lower, of_limit), interval(upper, of_limit)
    return Agreement(count, mean, deviation, multiplier, lower, upper, *intervals)


class IntraclassCorrelation(Struct, frozen=True):
    """ICC(1,1) with its interval."""

    value: float
    interval: Interval | Undefined


def intraclass_correlation(table: Sequence[Sequence[float]]) -> IntraclassCorrelation | Undefined:
    """Return the intraclass correlation of one rater where the raters differ from person to person: ICC(1,1).

    ICC = (B - W) / (B + (k - 1) W), B and W the mean squares between and within people, k raters

    table : one row a person, one column a rater, two of each at least, no gaps; any unit.

    It may be below 0: then the people cannot be told apart. Source: [ShroutFleiss1979]_, interval table 7 of
    [McGrawWong1996]_. An ICC rises with the spread of the people measured; it is a statement on these raters
    with people like these.

    Examples
    --------
    >>> judges = [(9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7)]
    >>> round(intraclass_correlation(judges).value, 2)
    0.17
    """
    import numpy
    from scipy.special import fdtri

    ratings = numpy.array(table, dtype=float)
    people, raters = ratings.shape
    above, below = people - 1, people * (raters - 1)
    nought = (_ROUNDING * abs(ratings).max()) ** 2
    # About their mean, so that large readings keep their digits.
    ratings -= ratings.mean()
    means = ratings.mean(axis=1, keepdims=True)

    def mean_square(deviations: Any, degrees: int) -> float:
        square = float((deviations**2).sum()) / degrees
        return square if square > nought else 0.0

    between, within = raters * mean_square(means, above), mean_square(ratings - means, below)
    if between == 0:
        return Undefined("people-alike")
    value = (between - within) / (between + (raters - 1) * within)
    if within == 0:
        return IntraclassCorrelation(value, Undefined("no-error-left"))
    ratio = between / within
    ends = (ratio / fdtri(above, below, _UPPER), ratio * fdtri(below, above, _UPPER))
    lower, upper = (float((end - 1) / (end + raters - 1)) for end in ends)
    return IntraclassCorrelation(value, Interval(lower, upper))


Comparison = Literal["within", "between"]
Experience = Literal["beginner", "skilled"]

LIMITS_SOURCE = "Gore et al. in Norton & Olds 2000 (from memory)"
_LIMITS = {"within": {"beginner": 7.5, "skilled": 5.0}, "between": {"beginner": 10.0, "skilled": 7.5}}


def acceptable_limit(comparison: Comparison, experience: Experience) -> float:
    """Return the largest relative TEM of skinfolds held acceptable within one measurer or between measurers,
    in per cent of the mean reading. Source: [Gore2000]_; about 20 people are needed.

    >>> acceptable_limit("within", "beginner")
    7.5
    """
    return _LIMITS[comparison][experience]


def minimal_detectable_change(
    errors: Sequence[float], readings: int = 1, degrees: Sequence[float] = ()
) -> float:
    """Return the smallest change of a sum of sites that is more than error in 95 % of cases [mm].

    t sqrt(2) sqrt(sum TEM^2 / k), with t = 1.96 where the TEM are known

    errors : TEM of each site [mm]; of one alone, the change is that of the site.
    readings : k, readings in each mean that is compared.
    degrees : of freedom of each TEM, infinite where it is known; empty: all of them are. t then is Student's
        with (sum TEM^2)^2 / sum(TEM^4 / degrees) [Satterthwaite1946]_.

    Source: [Weir2005]_. With n sites of one TEM it is sqrt(n) times the change of one site. For a site value
    under the third-reading rule take k = 2: with normal errors and any tolerance its error is within 6 % of
    TEM / sqrt(2) where the median is taken, and up to 13 % above it where the closest pair is (simulated).

    Examples
    --------
    >>> round(minimal_detectable_change([0.5]), 3), round(minimal_detectable_change([0.5], readings=2), 3)
    (1.386, 0.98)
    >>> round(minimal_detectable_change([0.5] * 7), 3)
    3.667
    """
    from scipy.special import stdtrit

    whole = math.hypot(*errors)
    doubt = math.fsum(error**4 / count for error, count in zip(errors, degrees, strict=bool(degrees)))
    quantile = float(stdtrit(whole**4 / doubt, _UPPER)) if doubt else _NORMAL
    return quantile * whole * math.sqrt(2 / readings)
