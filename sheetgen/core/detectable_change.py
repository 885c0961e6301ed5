"""How large a difference must be to be more than measurement error, and what error is held acceptable.

References
----------
.. [Gore2000] Gore et al. in Norton & Olds 2000. From memory.
.. [Weir2005] Weir 2005, J Strength Cond Res 19:231-240. From memory.

All of it takes errors as normal, of the same size both times, and independent of one another. A zero left in,
or a caliper held too long, moves every site the same way and is not covered.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sheetgen.core.outcome import checked_number

__all__ = ["ACCEPTABLE_LIMITS", "AcceptableLimit", "acceptable_limit", "minimal_detectable_change"]

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
