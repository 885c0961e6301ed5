"""Agreement of two ways of measuring the same people: mean difference and limits of agreement.

References
----------
.. [BlandAltman1986] Bland & Altman 1986, Lancet 1:307-310.
.. [BlandAltman1999] Bland & Altman 1999, Stat Methods Med Res 8:135-160.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from sheetgen.core.distributions import t_quantile
from sheetgen.core.outcome import Interval, Undefined, checked_number, complete_rows, upper_tail

__all__ = ["Agreement", "agreement"]


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
    factor = checked_number(multiplier, "a multiplier", lowest=0)
    tail = upper_tail(confidence)
    used, left_out = complete_rows(pairs)
    if len(used) < 2:
        return Undefined("agreement-two-people")
    differences = [first - second for first, second in used]
    mean, deviation = fmean(differences), stdev(differences)
    lower, upper = mean - factor * deviation, mean + factor * deviation
    count = len(used)
    quantile = t_quantile(1 - tail, count - 1)
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
