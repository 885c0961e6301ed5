"""Intraclass correlation, ICC, in all six forms with intervals, from a complete table of people by raters.

References
----------
.. [ShroutFleiss1979] Shrout & Fleiss 1979, Psychol Bull 86:420-428.
.. [McGrawWong1996] McGraw & Wong 1996, Psychol Methods 1:30-46.

An ICC rises with the spread of the people measured; it is a statement on these raters with people like these.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from sheetgen.core.distributions import f_quantile
from sheetgen.core.outcome import Interval, Undefined, checked_number, upper_tail

__all__ = ["ICC_FORMS", "IccForm", "IntraclassCorrelation", "intraclass_correlation"]

IccForm = Literal["1,1", "2,1", "3,1", "1,k", "2,k", "3,k"]
ICC_FORMS: tuple[IccForm, ...] = ("1,1", "2,1", "3,1", "1,k", "2,k", "3,k")

# No ICC of k raters is below -1 / (k - 1); an estimate of the second form, and its interval, can come out so.
_LOWEST = -1.0
# Rounding leaves squares of about (1e-16 of the largest reading)^2 where the mean square is nought.
_ROUNDING = 1e-13
_NOUGHT = 1e-12


@dataclass(frozen=True, slots=True)
class IntraclassCorrelation:
    """One ICC with its interval. people, raters : size of the table."""

    form: IccForm
    value: float
    interval: Interval | Undefined
    people: int
    raters: int


@dataclass(frozen=True, slots=True)
class _MeanSquares:
    """Mean squares of the analysis of variance: between people, between raters, residual, within people."""

    people: int
    raters: int
    between_people: float
    between_raters: float
    residual: float
    within: float


def _mean_squares(table: Sequence[Sequence[float]]) -> _MeanSquares:
    n, k = len(table), len(table[0])
    largest = max(abs(value) for row in table for value in row)
    # About their mean, so that the overall mean is nought below and large readings keep their digits.
    centre = fmean([value for row in table for value in row])
    rows = [[value - centre for value in row] for row in table]
    row_means = [fmean(row) for row in rows]
    column_means = [fmean(column) for column in zip(*rows, strict=True)]

    def mean_square(deviations: list[float], degrees: int) -> float:
        square = math.fsum(value * value for value in deviations) / degrees
        return square if square > (_ROUNDING * largest) ** 2 else 0.0

    by_row = list(zip(rows, row_means, strict=True))
    return _MeanSquares(
        n,
        k,
        k * mean_square(row_means, n - 1),
        n * mean_square(column_means, k - 1),
        mean_square(
            [
                value - mean - column
                for row, mean in by_row
                for value, column in zip(row, column_means, strict=True)
            ],
            (n - 1) * (k - 1),
        ),
        mean_square([value - mean for row, mean in by_row for value in row], n * (k - 1)),
    )


def _single(form: str, m: _MeanSquares) -> float:
    """Return the ICC of one rater: [ShroutFleiss1979]."""
    if form == "1":
        return (m.between_people - m.within) / (m.between_people + (m.raters - 1) * m.within)
    raters_part = m.raters * (m.between_raters - m.residual) / m.people if form == "2" else 0.0
    return (m.between_people - m.residual) / (m.between_people + (m.raters - 1) * m.residual + raters_part)


def _from_ratio(ratio: float, raters: int) -> float:
    return (ratio - 1) / (ratio + raters - 1)


def _interval_absolute(m: _MeanSquares, value: float, tail: float, confidence: float) -> Interval | Undefined:
    """Return the interval of ICC(2,1): case 2A, table 7, [McGrawWong1996]."""
    n, k = m.people, m.raters
    # In units of the residual, so that the second part is never nought: an ICC is at least -1 / (k - 1).
    raters_part = k * value * m.between_raters / m.residual
    residual_part = n * (1 + (k - 1) * value) - k * value
    spread = raters_part**2 / (k - 1) + residual_part**2 / ((n - 1) * (k - 1))
    degrees = (raters_part + residual_part) ** 2 / spread
    # At least k - 1 for any ICC from 0 up; below that the approximation has broken down.
    if degrees < 1:
        return Undefined("raters-differ-too-much")
    error = k * m.between_raters + (k * n - k - n) * m.residual
    low = f_quantile(1 - tail, n - 1, degrees)
    high = f_quantile(1 - tail, degrees, n - 1)
    lower = n * (m.between_people - low * m.residual) / (low * error + n * m.between_people)
    upper = n * (high * m.between_people - m.residual) / (error + n * high * m.between_people)
    if lower * (k - 1) <= _LOWEST:
        return Undefined("few-for-interval")
    return Interval(lower, upper, confidence)


def _interval(form: str, m: _MeanSquares, value: float, confidence: float) -> Interval | Undefined:
    """Return the interval of the ICC of one rater: table 7, [McGrawWong1996]."""
    tail = upper_tail(confidence)
    error = m.within if form == "1" else m.residual
    if error == 0:
        return Undefined("no-error-left")
    if form == "2":
        return _interval_absolute(m, value, tail, confidence)
    above = m.people - 1
    below = m.people * (m.raters - 1) if form == "1" else above * (m.raters - 1)
    ratio = m.between_people / error
    return Interval(
        _from_ratio(ratio / f_quantile(1 - tail, above, below), m.raters),
        _from_ratio(ratio * f_quantile(1 - tail, below, above), m.raters),
        confidence,
    )


def _averaged(value: float, raters: int) -> float:
    """Return the ICC of a mean of k raters from that of one: k r / (1 + (k - 1) r), Spearman-Brown."""
    return raters * value / (1 + (raters - 1) * value)


def intraclass_correlation(
    table: Sequence[Sequence[float]], form: IccForm, confidence: float = 0.95
) -> IntraclassCorrelation | Undefined:
    """Return an intraclass correlation with its interval.

    Parameters
    ----------
    table : one row a person, one column a rater, no gaps; any unit.
    form : of [ShroutFleiss1979]_: `1` raters differ from person to person, `2` the raters stand for others
        (absolute agreement), `3` these raters alone (consistency); `1` one rater, `k` the mean of all.

    Returns
    -------
    The ICC, or why there is none. One rater's may be below 0: then the people cannot be told apart; a mean's
    is not given there.

    Raises
    ------
    ValueError : the rows are of unequal length, a value is missing or not finite, the form is none of
        ICC_FORMS, or the confidence does not lie between 0 and 1.

    Examples
    --------
    >>> judges = [(9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7)]
    >>> round(intraclass_correlation(judges, "3,1").value, 2)
    0.71
    """
    if form not in ICC_FORMS:
        raise ValueError(f"a form is one of {'; '.join(ICC_FORMS)}, not {form!r}")
    upper_tail(confidence)
    rows = [[checked_number(value, "a rating") for value in row] for row in table]
    if len({len(row) for row in rows}) > 1:
        raise ValueError("each person needs a rating from each rater")
    if len(rows) < 2 or len(rows[0]) < 2:
        return Undefined("icc-two-people")
    squares = _mean_squares(rows)
    if squares.between_people == 0:
        return Undefined("people-alike")
    kind, count = form.split(",")
    value = _single(kind, squares)
    if value * (squares.raters - 1) < _LOWEST:
        return Undefined("few-for-estimate")
    interval = _interval(kind, squares, value, confidence)
    if count == "k":
        if value < -_NOUGHT:
            return Undefined("no-reliability")
        value = _averaged(value, squares.raters)
        if isinstance(interval, Interval):
            lower, upper = (_averaged(limit, squares.raters) for limit in (interval.lower, interval.upper))
            interval = Interval(lower, upper, confidence)
    return IntraclassCorrelation(form, value, interval, squares.people, squares.raters)
