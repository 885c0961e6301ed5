"""Agreement of measurers of the same people: limits of agreement of two, intraclass correlation of several.

References
----------
.. [BlandAltman1986] Bland & Altman 1986, Lancet 1:307-310.
.. [BlandAltman1999] Bland & Altman 1999, Stat Methods Med Res 8:135-160.
.. [ShroutFleiss1979] Shrout & Fleiss 1979, Psychol Bull 86:420-428.
.. [McGrawWong1996] McGraw & Wong 1996, Psychol Methods 1:30-46.
.. [Gore2000] Gore et al. in Norton & Olds 2000. From memory.
.. [Weir2005] Weir 2005, J Strength Cond Res 19:231-240. From memory.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Literal

from sheetgen.statistics.outcome import (
    Interval,
    Undefined,
    checked_number,
    complete_rows,
    upper_tail,
)

# Rounding leaves squares of about (1e-16 of the largest reading)^2 where the mean square is nought.
_ROUNDING = 1e-13


@dataclass(frozen=True, slots=True)
class Agreement:
    """Mean difference, first less second, and limits of agreement, in the unit of the readings.

    pairs, left_out : people used, and people without both readings.
    multiplier : limits = mean difference -+ multiplier x standard deviation of the differences.
    *_interval : of the mean difference and of each limit.
    """

    pairs: int
    left_out: int
    mean_difference: float
    standard_deviation: float
    multiplier: float
    lower_limit: float
    upper_limit: float
    mean_interval: Interval | Undefined
    lower_interval: Interval | Undefined
    upper_interval: Interval | Undefined


def agreement(
    pairs: Sequence[tuple[float | None, float | None]], multiplier: float = 1.96, confidence: float = 0.95
) -> Agreement | Undefined:
    """Return mean difference and limits of agreement with their intervals.

    Parameters
    ----------
    pairs : two readings a person, one by each way of measuring; None where there is none.
    multiplier : 1.96 for 95 % of differences; [BlandAltman1986]_ has 2.
    confidence : of the intervals, between 0 and 1.

    Returns
    -------
    The agreement, or why there is none. People without both readings are left out and counted.

    Raises
    ------
    ValueError : a reading is not finite, the multiplier is below 0, the confidence not between 0 and 1.

    Notes
    -----
    Intervals by Student's t with n - 1 degrees of freedom: SD / sqrt(n) is the error of the mean difference,
    SD sqrt(1/n + m^2 / (2(n - 1))) that of a limit with multiplier m [BlandAltman1999]_; the 1986 paper has
    sqrt(3/n), which is nearly the same for m = 2.
    Validity: one pair a person, differences about normal and of the same size for thin and thick folds.

    Examples
    --------
    >>> result = agreement([(10.0, 9.0), (12.0, 12.0), (15.0, 13.0)], multiplier=2)
    >>> result.mean_difference, result.lower_limit, result.upper_limit
    (1.0, -1.0, 3.0)
    """
    from scipy.special import stdtrit

    factor = checked_number(multiplier, "a multiplier", lowest=0)
    tail = upper_tail(confidence)
    used, left_out = complete_rows(pairs)
    if len(used) < 2:
        return Undefined("agreement-two-people")
    differences = [first - second for first, second in used]
    mean, deviation = fmean(differences), stdev(differences)
    lower, upper = mean - factor * deviation, mean + factor * deviation
    count = len(used)
    quantile = float(stdtrit(count - 1, 1 - tail))
    mean_reach = quantile * deviation / math.sqrt(count)
    limit_reach = quantile * deviation * math.sqrt(1 / count + factor**2 / (2 * (count - 1)))

    def interval(centre: float, reach: float) -> Interval | Undefined:
        if deviation == 0:
            return Undefined("differences-alike")
        return Interval(centre - reach, centre + reach, confidence)

    return Agreement(
        count,
        left_out,
        mean,
        deviation,
        factor,
        lower,
        upper,
        interval(mean, mean_reach),
        interval(lower, limit_reach),
        interval(upper, limit_reach),
    )


@dataclass(frozen=True, slots=True)
class IntraclassCorrelation:
    """ICC(1,1) with its interval. people, raters : size of the table."""

    value: float
    interval: Interval | Undefined
    people: int
    raters: int


def intraclass_correlation(
    table: Sequence[Sequence[float]], confidence: float = 0.95
) -> IntraclassCorrelation | Undefined:
    """Return the intraclass correlation of one rater where the raters differ from person to person: ICC(1,1).

    ICC = (B - W) / (B + (k - 1) W), B and W the mean squares between and within people, k raters

    Parameters
    ----------
    table : one row a person, one column a rater, no gaps; any unit.

    Returns
    -------
    The ICC, or why there is none. It may be below 0: then the people cannot be told apart.

    Raises
    ------
    ValueError : the rows are of unequal length, a value is missing or not finite, or the confidence does not
        lie between 0 and 1.

    Notes
    -----
    Source: [ShroutFleiss1979]_, interval table 7 of [McGrawWong1996]_. An ICC rises with the spread of the
    people measured; it is a statement on these raters with people like these.

    Examples
    --------
    >>> judges = [(9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7)]
    >>> round(intraclass_correlation(judges).value, 2)
    0.17
    """
    from scipy.special import fdtri

    tail = upper_tail(confidence)
    rows = [[checked_number(value, "a rating") for value in row] for row in table]
    if len({len(row) for row in rows}) > 1:
        raise ValueError("each person needs a rating from each rater")
    if len(rows) < 2 or len(rows[0]) < 2:
        return Undefined("icc-two-people")
    people, raters = len(rows), len(rows[0])
    above, below = people - 1, people * (raters - 1)
    largest = max(abs(value) for row in rows for value in row)
    centre = fmean(value for row in rows for value in row)
    # About their mean, so that large readings keep their digits.
    rows = [[value - centre for value in row] for row in rows]

    def mean_square(deviations: list[float], degrees: int) -> float:
        square = math.fsum(value * value for value in deviations) / degrees
        return square if square > (_ROUNDING * largest) ** 2 else 0.0

    means = [fmean(row) for row in rows]
    between = raters * mean_square(means, above)
    deviations = [value - mean for row, mean in zip(rows, means, strict=True) for value in row]
    within = mean_square(deviations, below)
    if between == 0:
        return Undefined("people-alike")
    value = (between - within) / (between + (raters - 1) * within)
    if within == 0:
        return IntraclassCorrelation(value, Undefined("no-error-left"), people, raters)
    ends = (
        between / within / fdtri(above, below, 1 - tail),
        between / within * fdtri(below, above, 1 - tail),
    )
    lower, upper = (float((ratio - 1) / (ratio + raters - 1)) for ratio in ends)
    return IntraclassCorrelation(value, Interval(lower, upper, confidence), people, raters)


Comparison = Literal["within", "between"]
Experience = Literal["beginner", "skilled"]


@dataclass(frozen=True, slots=True)
class AcceptableLimit:
    """The largest relative TEM held acceptable.

    comparison : `within` one measurer or `between` measurers. experience : of the measurer.
    percent : of the mean reading [%].
    """

    comparison: Comparison
    experience: Experience
    percent: float
    source: str


_LIMITS_SOURCE = "Gore et al. in Norton & Olds 2000 (from memory)"
ACCEPTABLE_LIMITS = (
    AcceptableLimit("within", "beginner", 7.5, _LIMITS_SOURCE),
    AcceptableLimit("within", "skilled", 5.0, _LIMITS_SOURCE),
    AcceptableLimit("between", "beginner", 10.0, _LIMITS_SOURCE),
    AcceptableLimit("between", "skilled", 7.5, _LIMITS_SOURCE),
)


def acceptable_limit(comparison: Comparison, experience: Experience) -> AcceptableLimit:
    """Return the acceptable relative TEM of skinfolds. Source: [Gore2000]_; about 20 people are needed.

    Raises
    ------
    ValueError : there is no such limit.

    Examples
    --------
    >>> acceptable_limit("within", "beginner").percent
    7.5
    """
    for limit in ACCEPTABLE_LIMITS:
        if (limit.comparison, limit.experience) == (comparison, experience):
            return limit
    raise ValueError(
        f"a limit is within or between, for a beginner or skilled, not {comparison!r}, {experience!r}"
    )


def minimal_detectable_change(errors: Sequence[float], readings: int = 1, multiplier: float = 1.96) -> float:
    """Return the smallest change of a sum of sites that is more than error [mm].

    1.96 sqrt(2) sqrt(sum TEM^2 / k)

    Parameters
    ----------
    errors : TEM of each site [mm]; of one alone, the change is that of the site. readings : k, readings in
        each mean that is compared.
    multiplier : normal quantile, 1.96 for 95 % of differences that are error alone.

    Raises
    ------
    ValueError : there is no site, a TEM or the multiplier is below 0, or there is not one reading at least.

    Notes
    -----
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
    if isinstance(readings, bool) or not isinstance(readings, int) or readings < 1:
        raise ValueError(f"a mean is of 1 reading or more, not {readings!r}")
    if not errors:
        raise ValueError("a sum needs at least one site")
    checked = [checked_number(error, "a technical error", lowest=0) for error in errors]
    return (
        checked_number(multiplier, "a multiplier", lowest=0) * math.hypot(*checked) * math.sqrt(2 / readings)
    )
