"""How often chance makes the numbers of two files the same.

Model, computed and not published: a reading is a fold with a normal error of standard deviation TEM, read off
to the nearest division D; folds differ normally with standard deviation S, a share C of its variance common
to all sites of a sheet (a thick person is thick everywhere).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from sheetgen.statistics.digits import third_reading_chance_on_scale

_MOST_STEPS = 200


@dataclass(frozen=True, slots=True)
class SiteSpread:
    """One site. error : TEM within a measurer. spread : S, between the sheets compared. Both [mm]."""

    error: float
    spread: float


def match_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return P(K >= t) for t = 0 to the number of sites: K sites where both rounds of two sheets are equal.

    division : D, of the scale [0.01 mm]. common : C, from 0 to 1.

    Given the gap g = S sqrt(2 C) G between two sheets, G standard normal,
    q(g) = min(1, H D exp(-g^2 / 4v) / sqrt(4 pi v)), v = S^2 (1 - C) + TEM^2 / 2, H = sum over k of h(k)^2,
    with h(k) the chance that two readings of one fold lie k divisions apart, signed. It comes from
    sum over (i, j) of P(i, j)^2: sum and difference of two normal errors are independent. The chances of the
    sites are then independent; K is their Poisson-binomial number, averaged over G.
    Validity: v above about (D / 2)^2; below that q is at its upper side, so a threshold too.

    Examples
    --------
    >>> [round(chance, 3) for chance in match_chances([SiteSpread(0.7, 5.0)] * 2, 100, 0.0)]
    [1.0, 0.029, 0.0]
    """
    import numpy

    gaps = numpy.arange(-60, 61) / 10
    density = numpy.exp(-gaps * gaps / 2) / math.sqrt(math.tau) / 10
    tails = _tails((_match(site, division, common) for site in sites), gaps) @ density
    return tuple(numpy.minimum(tails, 1.0).tolist())


def _tails(matches: Iterable[tuple[float, float]], gaps: Any) -> Any:
    """P(K >= t) by t and gap g; matches : h and r of each site, its chance min(1, h exp(-r g^2))."""
    import numpy

    chances = [numpy.minimum(1.0, height * numpy.exp(-rate * gaps * gaps)) for height, rate in matches]
    counts = numpy.zeros((len(chances) + 1, len(gaps)))
    counts[0] = 1.0
    for q in chances:
        counts[1:] = counts[1:] * (1 - q) + counts[:-1] * q
        counts[0] *= 1 - q
    return counts[::-1].cumsum(axis=0)[::-1]


def altered_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return how many pairs of alterations, a shift and an order of the rounds, make t sites of two sheets
    equal, on average, for t = 0 to the number of sites; at the upper side.

    As in `match_chances`, with the gap g less the shift: summed over all shifts by whole divisions D the
    gap's own spread drops out, 2 / D x integral of P(K >= t | g) dg, with 2 for the order of the rounds.
    """
    import numpy

    variances = [
        max(site.spread**2 * (1 - common) + site.error**2 / 2, (division / 200) ** 2) for site in sites
    ]
    gaps = numpy.linspace(-1, 1, 401) * 9 * math.sqrt(max(variances, default=1.0))
    matches = (
        (_height(site.error, division, variance), 1 / (4 * variance))
        for site, variance in zip(sites, variances, strict=True)
    )
    tails = _tails(matches, gaps).sum(axis=1)
    return tuple((2 * tails * (gaps[1] - gaps[0]) / (division / 100)).tolist())


def practice_chances(sites: int, division: int) -> tuple[float, ...]:
    """Return P(K >= t) of K sites of a practice list equal to those of another sheet, for t = 0 to `sites`.

    Binomial with q = D / 60 mm: the folds of a list lie evenly over 20 mm, and it has each difference of the
    rounds in a third of the sites or fewer.

    Examples
    --------
    >>> [round(chance, 4) for chance in practice_chances(2, 100)]
    [1.0, 0.0331, 0.0003]
    """
    q = min(division / 6000, 1.0)
    of = [math.comb(sites, count) * q**count * (1 - q) ** (sites - count) for count in range(sites + 1)]
    return tuple(math.fsum(of[least:]) for least in range(sites + 1))


def least_matches(chances: Sequence[float], pairs: int, expected: float, floor: int = 1) -> tuple[int, float]:
    """Return the smallest number of equal sites, `floor` at least, that chance is expected to bring about in
    fewer pairs than `expected`, and how many it does; one more than there are sites, and 0, where none is
    enough.

    Examples
    --------
    >>> least_matches((1.0, 0.04, 0.0002), 100, 0.05)
    (2, 0.02)
    >>> least_matches((1.0, 0.04, 0.0002), 1000, 0.05)
    (3, 0.0)
    """
    enough = (least for least in range(floor, len(chances)) if pairs * chances[least] < expected)
    least = next(enough, max(floor, len(chances)))
    return least, pairs * chances[least] if least < len(chances) else 0.0


def _match(site: SiteSpread, division: int, common: float) -> tuple[float, float]:
    """H D / sqrt(4 pi v), and the rate r of exp(-r G^2) = exp(-S^2 2C G^2 / 4v)."""
    variance = site.spread**2 * (1 - common) + site.error**2 / 2
    if variance <= 0:
        return 1.0, 0.0
    return _height(site.error, division, variance), site.spread**2 * common / (2 * variance)


def _height(error: float, division: int, variance: float) -> float:
    """H D / sqrt(4 pi v), with H the chance that two honest pairs of readings have the same signed gap."""
    beyond = [third_reading_chance_on_scale(error, step * division, division) for step in range(_MOST_STEPS)]
    same = (1 - beyond[0]) ** 2 + sum((wider - further) ** 2 for wider, further in pairwise(beyond)) / 2
    return same * division / 100 / math.sqrt(4 * math.pi * variance)
