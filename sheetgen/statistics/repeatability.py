"""How closely readings of the same fold repeat: the technical error of measurement, TEM.

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
from statistics import fmean, stdev

from sheetgen.statistics.outcome import Interval, Undefined, checked_number, upper_tail


@dataclass(frozen=True, slots=True)
class TechnicalError:
    """The technical error of measurement.

    value : TEM [mm]. mean, standard_deviation : of all readings used, error and all [mm].
    people : with two readings or more. left_out : people with fewer than two.
    degrees_of_freedom : readings used less people.
    """

    value: float
    mean: float
    standard_deviation: float
    people: int
    left_out: int
    degrees_of_freedom: int


def _present(people: Sequence[Sequence[float | None]]) -> list[list[float]]:
    """Return the readings of each person who has two or more."""
    readings = [
        [checked_number(value, "a reading") for value in person if value is not None] for person in people
    ]
    return [person for person in readings if len(person) >= 2]


def _squares_within(person: Sequence[float]) -> float:
    """Return the sum of squared deviations from the person's mean, exactly 0 for readings all alike."""
    from_first = [value - person[0] for value in person]
    mean = fmean(from_first)
    return math.fsum((value - mean) ** 2 for value in from_first)


def _record(value: float, used: Sequence[Sequence[float]], people: int) -> TechnicalError:
    readings = [reading for person in used for reading in person]
    left_out = people - len(used)
    degrees = len(readings) - len(used)
    return TechnicalError(value, fmean(readings), stdev(readings), len(used), left_out, degrees)


def technical_error(people: Sequence[Sequence[float | None]]) -> TechnicalError | Undefined:
    """Return the technical error of measurement from two or more readings a person.

    TEM = sqrt(sum over people of [sum M^2 - (sum M)^2 / K] / sum over people of (K - 1))

    Parameters
    ----------
    people : one row a person: readings of one site [mm], None where there is none.

    Returns
    -------
    The TEM, or why there is none.

    Raises
    ------
    ValueError : a reading is not finite or above 1e9 in size.

    Notes
    -----
    With K readings from each of N people the denominator is N(K - 1), as published [UlijaszekKerr1999]_.
    Where readings are missing each person counts with the K there are (the pooled variance within people);
    one with fewer than two is left out.

    Examples
    --------
    >>> error = technical_error([(10.0, 11.0, 12.0), (20.0, 20.0, None), (15.0, None, None)])
    >>> round(error.value, 3), error.mean, error.people, error.left_out, error.degrees_of_freedom
    (0.816, 14.6, 2, 1, 3)
    """
    used = _present(people)
    if not used:
        return Undefined("no-person-twice")
    degrees = sum(len(person) - 1 for person in used)
    squares = math.fsum(_squares_within(person) for person in used)
    return _record(math.sqrt(squares / degrees), used, len(people))


def technical_error_two(pairs: Sequence[tuple[float | None, float | None]]) -> TechnicalError | Undefined:
    """Return the technical error of measurement from two readings a person: sqrt(sum d^2 / 2n).

    Parameters, errors and missing readings as for `technical_error`: a person without both is left out.
    Source: [UlijaszekKerr1999]_, [Perini2005]_.

    Examples
    --------
    >>> error = technical_error_two([(10.0, 11.0), (20.0, 20.0), (15.0, None)])
    >>> error.value, error.mean, error.people, error.left_out, error.degrees_of_freedom
    (0.5, 15.25, 2, 1, 2)
    """
    used = _present(pairs)
    if not used:
        return Undefined("no-person-twice")
    squares = math.fsum((first - second) ** 2 for first, second in used)
    return _record(math.sqrt(squares / (2 * len(used))), used, len(pairs))


def technical_error_interval(error: TechnicalError, confidence: float = 0.95) -> Interval | Undefined:
    """Return the interval of a TEM [mm].

    The degrees of freedom times the square of TEM over true TEM are chi-square. Validity: normal errors of
    the same size for everyone. `confidence` between 0 and 1, else ValueError.
    """
    from scipy.special import chdtri

    tail = upper_tail(confidence)
    if error.people < 2:
        return Undefined("interval-two-people")
    if error.value == 0:
        return Undefined("all-repeat-exactly")
    degrees = error.degrees_of_freedom
    lower, upper = (error.value * math.sqrt(degrees / chdtri(degrees, share)) for share in (tail, 1 - tail))
    return Interval(lower, upper, confidence)


def relative_technical_error(error: TechnicalError) -> float | Undefined:
    """Return the TEM as a percentage of the mean reading: 100 TEM / mean [%]. Source: [Perini2005]_.

    Undefined where the mean is not above the TEM: such a mean cannot be told from nought.
    """
    if error.mean <= error.value:
        return Undefined("mean-below-error")
    return 100 * error.value / error.mean


def total_technical_error(first_observer: float, second_observer: float, between: float) -> float:
    """Return the total TEM of two observers with two readings each [mm].

    total = sqrt((TEM1^2 + TEM2^2) / 2 + TEMbetween^2)

    Parameters
    ----------
    first_observer, second_observer : TEM of each observer's own two readings [mm].
    between : TEM between the two observers [mm].

    Raises
    ------
    ValueError : a TEM is below 0 or not finite.

    Notes
    -----
    Source: [UlijaszekKerr1999]_. A TEM between observers worked out from readings already holds a part of the
    observers' own error, so the total is at its upper side.

    Examples
    --------
    >>> total_technical_error(3.0, 3.0, 4.0)
    5.0
    """
    first, second, other = (
        checked_number(value, "a technical error", lowest=0)
        for value in (first_observer, second_observer, between)
    )
    return math.sqrt((first**2 + second**2) / 2 + other**2)
