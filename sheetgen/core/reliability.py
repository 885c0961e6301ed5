"""The reliability coefficient R: which share of the variance between readings is not error.

References
----------
.. [UlijaszekKerr1999] Ulijaszek & Kerr 1999, Br J Nutr 82:165-177.
"""

from sheetgen.core.outcome import Undefined, checked_number
from sheetgen.core.repeatability import TechnicalError

__all__ = ["reliability", "reliability_of_readings"]


def reliability(error: float, standard_deviation: float) -> float | Undefined:
    """Return the share of the variance between readings that is not error: R = 1 - TEM^2 / SD^2.

    Parameters
    ----------
    error : TEM [mm]. standard_deviation : of all readings, error and all [mm].

    Raises
    ------
    ValueError : either is below 0 or not finite.

    Notes
    -----
    Source: [UlijaszekKerr1999]_. It rises with the spread of the people measured, whoever measures.

    Examples
    --------
    >>> reliability(1.0, 5.0)
    0.96
    """
    error = checked_number(error, "a technical error", lowest=0)
    spread = checked_number(standard_deviation, "a standard deviation", lowest=0)
    if spread == 0:
        return Undefined("readings-all-same")
    if error >= spread:
        return Undefined("no-more-than-error")
    return 1 - (error / spread) ** 2


def reliability_of_readings(error: TechnicalError) -> float | Undefined:
    """Return R of the readings that a TEM was worked out from; it needs two people or more."""
    if error.people < 2:
        return Undefined("one-person-no-spread")
    return reliability(error.value, error.standard_deviation)
