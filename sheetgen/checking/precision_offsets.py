"""Offsets of calipers from sheets about the same people: least squares, with measurers who differ.

Model: sheet = person + offset of the caliper + habit of the measurer + error. A caliper can only be told
apart from the others through people measured with both, and from its measurers only where several used it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median

from sheetgen.core.outcome import Undefined

__all__ = ["Observation", "OffsetFit", "connected_groups", "fit_offsets", "without_outliers"]

Matrix = list[list[float]]
_OUTLIER = 5.0
"""Residuals beyond this many robust standard deviations, 1.4826 x median |residual|, are no reading error."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One sheet: its mean over the sites [mm] that all sheets about this person have."""

    person: str
    caliper: str
    measurer: str
    value: float


@dataclass(frozen=True, slots=True)
class OffsetFit:
    """Offsets that add up to nought and their covariance, in the order of `calipers`.

    degrees_of_freedom : measurers less calipers.
    error, habit : standard deviations of a sheet, and of a measurer over all sheets [mm].
    """

    calipers: tuple[str, ...]
    offsets: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    degrees_of_freedom: int
    error: float
    habit: float

    def contrast(self, caliper: int, others: Sequence[int]) -> tuple[float, float]:
        """Return a caliper's offset against the mean of others and its standard error [mm]."""
        weights = [0.0] * len(self.calipers)
        weights[caliper] = 1.0
        for other in others:
            weights[other] = -1 / len(others)
        offset = math.fsum(map(float.__mul__, weights, self.offsets))
        row = [math.fsum(map(float.__mul__, weights, column)) for column in self.covariance]
        return offset, math.sqrt(max(math.fsum(map(float.__mul__, weights, row)), 0.0))


def connected_groups(observations: Sequence[Observation]) -> tuple[tuple[str, ...], ...]:
    """Return the groups of calipers that can be compared, through people measured with more than one."""
    parent = {one.caliper: one.caliper for one in observations}

    def root(caliper: str) -> str:
        while parent[caliper] != caliper:
            parent[caliper] = parent[parent[caliper]]
            caliper = parent[caliper]
        return caliper

    first: dict[str, str] = {}
    for one in observations:
        parent[root(one.caliper)] = root(first.setdefault(one.person, one.caliper))
    groups: dict[str, list[str]] = {}
    for caliper in sorted(parent):
        groups.setdefault(root(caliper), []).append(caliper)
    return tuple(sorted(tuple(group) for group in groups.values()))


def without_outliers(observations: Sequence[Observation]) -> tuple[Observation, ...]:
    """Return the sheets without those that lie far from the others about their person, worst first.

    A sheet about someone else, or copied from one, would hide every caliper. With only two sheets about a
    person it is not known which is wrong: both are left out. Offsets of calipers are taken off before.
    """
    kept = list(observations)
    while kept:
        residuals = _residuals(kept)
        worst = max(range(len(kept)), key=lambda one: abs(residuals[one]))
        scale = 1.4826 * median(map(abs, residuals))
        if scale == 0 or abs(residuals[worst]) <= _OUTLIER * scale:
            break
        person = kept[worst].person
        own = [one for one, other in enumerate(kept) if other.person == person]
        dropped = own if len(own) == 2 else [worst]
        kept = [other for one, other in enumerate(kept) if one not in dropped]
    return tuple(kept)


def _residuals(observations: Sequence[Observation]) -> list[float]:
    """What is left of each sheet after its person and its caliper, group by group."""
    offsets: dict[str, float] = {}
    for group in connected_groups(observations):
        own = [one for one in observations if one.caliper in group]
        at = {caliper: number for number, caliper in enumerate(group)}
        a, b = _zeros(len(group), len(group)), [0.0] * len(group)
        for sheets in _people(own).values():
            mean = fmean(one.value for one in sheets)
            for one in sheets:
                a[at[one.caliper]][at[one.caliper]] += 1
                b[at[one.caliper]] += one.value - mean
                for other in sheets:
                    a[at[one.caliper]][at[other.caliper]] -= 1 / len(sheets)
        for caliper, row in zip(group, _pseudo_inverse(a), strict=True):
            offsets[caliper] = math.fsum(map(float.__mul__, row, b))
    means = {
        person: fmean(one.value - offsets[one.caliper] for one in sheets)
        for person, sheets in _people(observations).items()
    }
    return [one.value - offsets[one.caliper] - means[one.person] for one in observations]


def _people(observations: Sequence[Observation]) -> dict[str, list[Observation]]:
    people: dict[str, list[Observation]] = {}
    for one in observations:
        people.setdefault(one.person, []).append(one)
    return people


def fit_offsets(observations: Sequence[Observation]) -> OffsetFit | Undefined:
    """Fit the offsets of one connected group of calipers.

    Notes
    -----
    X: sheets by calipers, Z: sheets by measurers, M: takes each person's mean away.
    offsets = A+ X'My with A = X'MX; R = M - MX A+ X'M; r = Ry. The two variances follow from
    E[r'r] = error^2 df + habit^2 tr(Z'RZ) and E[(Z'r)'(Z'r)] = error^2 tr(Z'RZ) + habit^2 |Z'RZ|^2,
    habit^2 from 0 up. Covariance: error^2 A+ + habit^2 A+ X'MZ Z'MX A+.
    Work grows with measurers^2 x calipers: a class, or all sections that share calipers.
    """
    calipers = tuple(sorted({one.caliper for one in observations}))
    measurers = sorted({(one.measurer, one.caliper) for one in observations})
    people: dict[str, list[tuple[int, int, float]]] = {}
    at, by = {c: i for i, c in enumerate(calipers)}, {m: i for i, m in enumerate(measurers)}
    for one in observations:
        unit = by[(one.measurer, one.caliper)]
        people.setdefault(one.person, []).append((at[one.caliper], unit, one.value))
    c, u = len(calipers), len(measurers)
    if c < 2:
        return Undefined("no-two-calipers")
    degrees = u - c
    if degrees < 1:
        return Undefined("caliper-or-measurer")
    sheets_df = len(observations) - len(people) - c + 1
    if sheets_df < 1:
        return Undefined("few-two-calipers")
    # X'MX, Z'MX, Z'MZ and X'My: counts less the counts of each person over the number of their sheets.
    a, zx, zz = _zeros(c, c), _zeros(u, c), _zeros(u, u)
    b = [0.0] * c
    for own in people.values():
        mean = math.fsum(value for _, _, value in own) / len(own)
        for caliper, unit, value in own:
            a[caliper][caliper] += 1
            zx[unit][caliper] += 1
            zz[unit][unit] += 1
            b[caliper] += value - mean
            for other_caliper, other_unit, _ in own:
                a[caliper][other_caliper] -= 1 / len(own)
                zx[unit][other_caliper] -= 1 / len(own)
                zz[unit][other_unit] -= 1 / len(own)
    inverse = _pseudo_inverse(a)
    offsets = [math.fsum(map(float.__mul__, row, b)) for row in inverse]
    squares, by_unit = 0.0, [0.0] * u
    for own in people.values():
        fitted = [(unit, value - offsets[caliper]) for caliper, unit, value in own]
        mean = math.fsum(value for _, value in fitted) / len(fitted)
        for unit, value in fitted:
            squares += (value - mean) ** 2
            by_unit[unit] += value - mean
    weights = [[math.fsum(map(float.__mul__, row, column)) for column in inverse] for row in zx]
    trace = norm = 0.0
    for g in range(u):
        for h in range(u):
            residual = zz[g][h] - math.fsum(map(float.__mul__, weights[g], zx[h]))
            norm += residual * residual
            trace += residual if g == h else 0.0
    error, habit = _variances(squares, math.fsum(s * s for s in by_unit), sheets_df, trace, norm)
    covariance = tuple(
        tuple(
            error * inverse[i][j] + habit * math.fsum(weights[g][i] * weights[g][j] for g in range(u))
            for j in range(c)
        )
        for i in range(c)
    )
    return OffsetFit(calipers, tuple(offsets), covariance, degrees, math.sqrt(error), math.sqrt(habit))


def _variances(
    squares: float, unit_squares: float, degrees: int, trace: float, norm: float
) -> tuple[float, float]:
    """Return the variances of error and habit from the two mean squares, neither below 0."""
    determinant = degrees * norm - trace * trace
    if determinant > 1e-9 * max(degrees * norm, 1.0):
        habit = (degrees * unit_squares - trace * squares) / determinant
        error = (squares - habit * trace) / degrees
        if habit > 0 and error > 0:
            return error, habit
        if habit > 0:
            return 0.0, unit_squares / norm
    return squares / degrees, 0.0


def _zeros(rows: int, columns: int) -> Matrix:
    return [[0.0] * columns for _ in range(rows)]


def _pseudo_inverse(matrix: Matrix) -> Matrix:
    """Of a symmetric matrix whose only null vector is all ones: (A + J/n)^-1 - J/n, by elimination."""
    n = len(matrix)
    rows = [
        [value + 1 / n for value in row] + [1.0 if i == j else 0.0 for j in range(n)]
        for i, row in enumerate(matrix)
    ]
    for column in range(n):
        pivot = max(range(column, n), key=lambda i: abs(rows[i][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        scale = rows[column][column]
        rows[column] = [value / scale for value in rows[column]]
        for i in range(n):
            factor = rows[i][column]
            if i != column and factor:
                rows[i] = [value - factor * base for value, base in zip(rows[i], rows[column], strict=True)]
    return [[value - 1 / n for value in row[n:]] for row in rows]
