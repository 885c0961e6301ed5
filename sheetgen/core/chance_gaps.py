"""How far two readings of one fold lie apart by chance: third readings called for, and pairs all alike.

Model: two readings with independent normal errors of standard deviation TEM, each read off to the nearest
division, the true thickness lying anywhere between two divisions with equal chance. Computed, not published.
"""

import math
from collections.abc import Sequence

from sheetgen.core.outcome import checked_number

__all__ = ["all_pairs_identical_chance", "third_reading_chance_on_scale"]


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
