"""From the sum of folds to density, per cent fat and masses. Coefficients come from the caller.

References
----------
.. [Brozek1963] Brozek, Grande, Anderson & Keys 1963, Ann N Y Acad Sci 110:113-140.
.. [DurninWomersley1974] Durnin & Womersley 1974, Br J Nutr 32:77-97.
.. [JacksonPollock1978] Jackson & Pollock 1978, Br J Nutr 40:497-504.
.. [JacksonPollockWard1980] Jackson, Pollock & Ward 1980, Med Sci Sports Exerc 12:175-182.
.. [Siri1961] Siri 1961, in Brozek & Henschel (eds), Techniques for Measuring Body Composition, 223-244.
.. [Slaughter1988] Slaughter et al. 1988, Hum Biol 60:709-723.
"""

import math
from collections.abc import Sequence


def sum_of_sites(thousandths: Sequence[int | None]) -> int | None:
    """Return the sum of all site values, or None where any is missing: a missing site never becomes 0.

    Parameters
    ----------
    thousandths : site values [0.001 mm].

    Returns
    -------
    The sum [0.001 mm].

    Raises
    ------
    ValueError : there are no sites at all.

    Examples
    --------
    >>> sum_of_sites([12500, 14500]), sum_of_sites([12500, None])
    (27000, None)
    """
    if not thousandths:
        raise ValueError("a sum needs at least one site")
    present = [value for value in thousandths if value is not None]
    return sum(present) if len(present) == len(thousandths) else None


def density_quadratic(
    sum_mm: float, age_years: float, *, constant: float, sum_linear: float, sum_squared: float, age: float
) -> float:
    """Return body density from an equation quadratic in the sum of folds.

    D = constant + sum_linear S + sum_squared S^2 + age A

    Parameters
    ----------
    sum_mm : S, sum of the named folds [mm], above 0.
    age_years : A, age [years], at least 0.
    constant, sum_linear, sum_squared, age : signed coefficients [g/ml], [g/ml/mm], [g/ml/mm^2], [g/ml/year].

    Returns
    -------
    D, body density [g/ml].

    Raises
    ------
    ValueError : the sum is not above 0, or the age is negative.

    Notes
    -----
    Valid inside the age and sum of the sample behind the coefficients, which the caller checks. Above the
    vertex S = -sum_linear / (2 sum_squared) a thicker fold reads as less fat.

    Examples
    --------
    Men, seven sites [JacksonPollock1978]_, S = 178 mm at 34 years:

    >>> men = dict(constant=1.112, sum_linear=-0.00043499, sum_squared=0.00000055, age=-0.00028826)
    >>> round(density_quadratic(178, 34, **men), 6)
    1.042197
    """
    _check_sum(sum_mm)
    if not 0 <= age_years < math.inf:
        raise ValueError(f"an age must be at least 0 years, not {age_years!r}")
    # Horner's form: another order of operations than the sheet's formula, so that the two prove each other.
    return (sum_squared * sum_mm + sum_linear) * sum_mm + (age * age_years + constant)


def density_log10(sum_mm: float, *, constant: float, sum_log10: float) -> float:
    """Return body density from an equation linear in the common logarithm of the sum of folds.

    D = constant + sum_log10 log10(S)

    Parameters
    ----------
    sum_mm : S, sum of the named folds [mm], above 0.
    constant, sum_log10 : signed coefficients [g/ml]; printed as D = c - m log10(S), sum_log10 is -m.

    Returns
    -------
    D, body density [g/ml].

    Raises
    ------
    ValueError : the sum is not above 0.

    Notes
    -----
    Valid for the sex and the band of ages of the coefficients, which the caller checks.

    Examples
    --------
    Men, 20 to 29 years, four sites [DurninWomersley1974]_, S = 40 mm:

    >>> round(density_log10(40, constant=1.1631, sum_log10=-0.0632), 6)
    1.06185
    """
    _check_sum(sum_mm)
    # By natural logarithms: another way than the sheet's LOG10, so that the two prove each other.
    return constant + sum_log10 / math.log(10) * math.log(sum_mm)


def percent_linear(sum_mm: float, *, constant: float, sum_linear: float) -> float:
    """Return per cent fat from a straight line on the sum of folds, without a density.

    fat % = constant + sum_linear S

    Parameters
    ----------
    sum_mm : S, sum of the named folds [mm], above 0.
    constant, sum_linear : signed coefficients [%], [%/mm].

    Returns
    -------
    Fat as per cent of body mass [%].

    Raises
    ------
    ValueError : the sum is not above 0.

    Notes
    -----
    Valid for the sex and the ages of the coefficients, which the caller checks. Over-reads thick folds.

    Examples
    --------
    Boys, triceps and calf [Slaughter1988]_, S = 20 mm:

    >>> round(percent_linear(20, constant=1.0, sum_linear=0.735), 3)
    15.7
    """
    _check_sum(sum_mm)
    return math.fsum((sum_linear * sum_mm, constant))


def fat_percent(density_g_ml: float, *, numerator: float, offset: float) -> float:
    """Return per cent fat from density by a two-component model: numerator / D - offset.

    Parameters
    ----------
    density_g_ml : D, body density [g/ml], above 0.
    numerator, offset : 495 and 450 [Siri1961]_; 457 and 414.2 [Brozek1963]_.

    Returns
    -------
    Fat as per cent of body mass [%]. It is negative for a density above numerator / offset.

    Raises
    ------
    ValueError : the density is not above 0.

    Examples
    --------
    >>> round(fat_percent(1.06145, numerator=495, offset=450), 2)
    16.34
    >>> round(fat_percent(1.06145, numerator=457, offset=414.2), 2)
    16.34
    """
    if not 0 < density_g_ml < math.inf:
        raise ValueError(f"a density must be above 0 g/ml, not {density_g_ml!r}")
    return numerator / density_g_ml - offset


def fat_mass(mass: float, percent: float) -> float:
    """Return the mass of fat: mass x percent / 100, in the unit of the mass.

    Raises
    ------
    ValueError : the mass is not above 0, or a number is not finite.

    Examples
    --------
    >>> round(fat_mass(168, 12), 2)
    20.16
    """
    if not 0 < mass < math.inf:
        raise ValueError(f"a body mass must be above 0, not {mass!r}")
    if not math.isfinite(percent):
        raise ValueError(f"per cent fat must be finite, not {percent!r}")
    return mass * percent / 100


def fat_free_mass(mass: float, percent: float) -> float:
    """Return the mass that is not fat: mass - fat mass, in the unit of the mass.

    Raises
    ------
    ValueError : the mass is not above 0.

    Examples
    --------
    >>> round(fat_free_mass(168, 12), 2)
    147.84
    """
    return mass - fat_mass(mass, percent)


def _check_sum(sum_mm: float) -> None:
    if not 0 < sum_mm < math.inf:
        raise ValueError(f"a sum of folds must be above 0 mm, not {sum_mm!r}")
