"""How often two honest sheets hold the same readings by chance: the number of sites with both rounds equal.

Model, computed and not published: a reading is a fold with a normal error of standard deviation TEM, read
off to the nearest division D; folds differ normally with standard deviation S, a share C of its variance
common to all sites of a sheet (a thick person is thick everywhere).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.core.chance_gaps import third_reading_chance_on_scale

__all__ = ["SiteSpread", "equal_readings_mean", "least_matches", "match_chances"]

_MOST_STEPS = 200
_GRID = [step / 10 for step in range(-60, 61)]
_DENSITY = [math.exp(-g * g / 2) / math.sqrt(math.tau) / 10 for g in _GRID]


@dataclass(frozen=True, slots=True)
class SiteSpread:
    """One site. error : TEM within a measurer. spread : S, between the sheets compared. Both [mm]."""

    error: float
    spread: float


def match_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return P(K >= t) for t = 0 to the number of sites: K sites where both rounds of two sheets are equal.

    Parameters
    ----------
    division : D, of the scale [0.01 mm]. common : C, from 0 to 1.

    Notes
    -----
    Given the gap g = S sqrt(2 C) G between two sheets, G standard normal,
    q(g) = min(1, H D exp(-g^2 / 4v) / sqrt(4 pi v)), v = S^2 (1 - C) + TEM^2 / 2, H = sum over k of h(k)^2,
    with h(k) the chance that two readings of one fold lie k divisions apart, signed. It comes from
    sum over (i, j) of P(i, j)^2: sum and difference of two normal errors are independent. The chances of the
    sites are then independent; K is their Poisson-binomial number, averaged over G.
    Validity: v above about (D / 2)^2; below that q is at its upper side, so a threshold too.

    Examples
    --------
    >>> [round(one, 3) for one in match_chances([SiteSpread(0.7, 5.0)] * 2, 100, 0.0)]
    [1.0, 0.029, 0.0]
    """
    step = division / 100
    parts = [_parts(site, division, step, common) for site in sites]
    tails = [0.0] * (len(sites) + 1)
    for g, density in zip(_GRID, _DENSITY, strict=True):
        counts = [1.0]
        for height, rate in parts:
            q = min(1.0, height * math.exp(-g * g * rate))
            counts = [
                (counts[k] * (1 - q) if k < len(counts) else 0.0) + (counts[k - 1] * q if k else 0.0)
                for k in range(len(counts) + 1)
            ]
        tail = 0.0
        for k in range(len(sites), -1, -1):
            tail += counts[k]
            tails[k] += density * tail
    return tuple(min(tail, 1.0) for tail in tails)


def equal_readings_mean(sites: Sequence[SiteSpread], division: int) -> float:
    """Return how many readings of two rounds at these sites are equal on average.

    D / sqrt(4 pi (S^2 + TEM^2)) for a reading, at most 1.

    Examples
    --------
    >>> round(equal_readings_mean([SiteSpread(0.7, 5.0)] * 7, 100), 2)
    0.78
    """
    step = division / 100
    return math.fsum(2 * _cell(step, site.spread**2 + site.error**2) for site in sites)


def least_matches(chances: Sequence[float], pairs: int, expected: float) -> tuple[int, float]:
    """Return the smallest number of equal sites that chance is expected to bring about in fewer pairs than
    `expected`, and how many it does; one more than there are sites, and 0, where none is enough.

    Examples
    --------
    >>> least_matches((1.0, 0.04, 0.0002), 100, 0.05)
    (2, 0.02)
    >>> least_matches((1.0, 0.04, 0.0002), 1000, 0.05)
    (3, 0.0)
    """
    for least in range(1, len(chances)):
        if pairs * chances[least] < expected:
            return least, pairs * chances[least]
    return len(chances), 0.0


def _cell(step: float, variance: float) -> float:
    """Chance that two independent normal values of this variance fall into the same division."""
    return min(1.0, step / math.sqrt(4 * math.pi * variance)) if variance > 0 else 1.0


def _parts(site: SiteSpread, division: int, step: float, common: float) -> tuple[float, float]:
    """H D / sqrt(4 pi v), and the rate r of exp(-r G^2) = exp(-S^2 2C G^2 / 4v)."""
    variance = site.spread**2 * (1 - common) + site.error**2 / 2
    same = _same_gap(site.error, division)
    if variance <= 0:
        return 1.0, 0.0
    height = same * step / math.sqrt(4 * math.pi * variance)
    return height, site.spread**2 * common / (2 * variance)


def _same_gap(error: float, division: int) -> float:
    """H: the chance that two honest pairs of readings have the same signed gap."""
    beyond, total = third_reading_chance_on_scale(error, 0, division), 0.0
    total += (1 - beyond) ** 2
    for step in range(1, _MOST_STEPS):
        further = third_reading_chance_on_scale(error, step * division, division)
        total += (beyond - further) ** 2 / 2
        beyond = further
        if beyond < 1e-12:
            break
    return min(total, 1.0)
