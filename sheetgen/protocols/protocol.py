"""A measuring protocol as data: sites in circuit order, equations, conversions, sources."""

from collections.abc import Callable, Mapping
from typing import Literal

from msgspec import Struct

from sheetgen.measurement import composition


class Term(Struct, frozen=True):
    """What a coefficient is multiplied with: as a person writes it, and as the formula of a sheet has it."""

    written: str
    formula: str


TERMS = {
    "constant": Term("", ""),
    "sum_linear": Term(" S", "*{sum_mm}"),
    "sum_squared": Term(" S^2", "*{sum_mm}^2"),
    "sum_log10": Term(" log10(S)", "*LOG10({sum_mm})"),
    "age": Term(" A", "*{in_age_years}"),
}
"""By coefficient, in the order of a sheet's table; S sum of folds in mm, A age in years."""

Fault = tuple[str, str]  # What was found; what was expected.

FaultOf = Callable[[Mapping[str, float], float, float], Fault | None]
"""What makes no sense about the coefficients for sums from the lowest to the highest [mm]."""


class EquationForm(Struct, frozen=True):
    """A form of equation: a sum of terms that gives density [g/ml] or per cent fat. coefficients : those that
    a protocol file has for it, keys of TERMS; a sheet adds up their terms. value : the same in the core's
    way, from sum [mm], age [years] and coefficients by name, so that sheet and core prove each other.
    fault : what makes no sense about its coefficients."""

    gives: Literal["density", "percent"]
    coefficients: tuple[str, ...]
    value: Callable[..., float]
    fault: FaultOf


def _rising_density(coefficients: Mapping[str, float], low: float, high: float) -> Fault | None:
    linear, squared = coefficients["sum_linear"], coefficients["sum_squared"]
    # The slope of a quadratic is largest at an end; beyond the vertex a thicker fold would read as less fat.
    rising = [limit for limit in (low, high) if linear + 2 * squared * limit >= 0]
    if not rising:
        return None
    found = f"a density that does not fall at a sum of {rising[0]:g} mm"
    if linear < 0 < squared:
        found += f": the equation turns back at {-linear / (2 * squared):.0f} mm"
    return found, f"a density that falls as the sum grows, up to {high:g} mm"


def _slope(name: str, sign: int, found: str, expected: str) -> FaultOf:
    """A check that a coefficient has the sign of 1 or -1."""
    return lambda coefficients, low, high: None if coefficients[name] * sign > 0 else (found, expected)


FORMS = {
    "quadratic": EquationForm(
        "density",
        ("constant", "sum_linear", "sum_squared", "age"),
        composition.density_quadratic,
        _rising_density,
    ),
    "log10": EquationForm(
        "density",
        ("constant", "sum_log10"),
        lambda sum_mm, age, **coefficients: composition.density_log10(sum_mm, **coefficients),
        _slope(
            "sum_log10",
            -1,
            "a density that does not fall as the sum grows",
            "sum_log10 below 0; printed as D = c - m log10(S) it is -m",
        ),
    ),
    "linear-percent": EquationForm(
        "percent",
        ("constant", "sum_linear"),
        lambda sum_mm, age, **coefficients: composition.percent_linear(sum_mm, **coefficients),
        _slope(
            "sum_linear",
            1,
            "per cent fat that does not grow with the sum",
            "sum_linear above 0: per cent fat grows with the sum",
        ),
    ),
}
"""Forms of equations by the word in a protocol file. A new one: a function in measurement/composition.py, its
record here (with a term where it has a new one), and its description in templates/protocol-example.toml."""


class Site(Struct, frozen=True):
    """One skinfold site. word : the code word in names (`chest`), lower case letters and underscores.
    title : what a person reads. direction : of the fold: `vertical`, `diagonal` or `horizontal`. trunk : on
    the trunk, not on a limb. landmark, cues : where the mark goes and how the fold is taken. figure : name of
    the drawing that shows it; empty: the one of its word."""

    word: str
    title: str
    direction: str
    trunk: bool
    landmark: str
    cues: tuple[str, ...]
    figure: str = ""


class Equation(Struct, frozen=True):
    """One equation, for one sex and one range of ages.
    identifier : unique in the protocol. sex : `female` or `male`: which answer of `sex_equation` picks it.
    form : one of FORMS. coefficients : (name, signed value) in the order of the form. age_minimum,
    age_maximum : years, both inclusive. sum_minimum, sum_maximum : mm, both inclusive; None where no range is
    published. standard_error_density : g/ml, None where the equation gives per cent fat.
    standard_error_percent : points of per cent fat. sample, source : who it was built on, and where it is
    published. digits : the coefficients as they are published, without sign, in the same order: `1.0970`;
    empty where only the values are known, in sheets handed out earlier."""

    identifier: str
    sex: str
    form: str
    coefficients: tuple[tuple[str, float], ...]
    age_minimum: float
    age_maximum: float
    sum_minimum: float | None
    sum_maximum: float | None
    standard_error_density: float | None
    standard_error_percent: float
    sample: str
    source: str
    digits: tuple[str, ...] = ()

    @property
    def gives_density(self) -> bool:
        """Whether the equation gives a density, from which per cent fat follows by a conversion."""
        return FORMS[self.form].gives == "density"

    def value(self, sum_mm: float, age_years: float) -> float:
        """Return density [g/ml] or per cent fat, in the core's way; ValueError outside of what it takes."""
        return FORMS[self.form].value(sum_mm, age_years, **dict(self.coefficients))


class Conversion(Struct, frozen=True):
    """A conversion of density to per cent fat: numerator / D - offset."""

    identifier: str
    title: str
    numerator: float
    offset: float
    source: str

    def percent(self, density_g_ml: float) -> float:
        """Return per cent fat, in the core's way; ValueError where the density is not above 0."""
        return composition.fat_percent(density_g_ml, numerator=self.numerator, offset=self.offset)


class Protocol(Struct, frozen=True):
    """A measuring protocol; `sites` are in circuit order and every one of them is in the sum.
    equations : none: folds only, sum and no estimate. conversions, default_conversion : none and empty where
    no equation gives a density. fat_minimum, fat_maximum : limits of our own of an estimate [%]."""

    identifier: str
    title: str
    standard: str
    sites: tuple[Site, ...]
    equations: tuple[Equation, ...]
    conversions: tuple[Conversion, ...]
    default_conversion: str
    notes: tuple[str, ...]
    fat_minimum: float = 2.0
    fat_maximum: float = 60.0

    def conversion(self, identifier: str) -> Conversion:
        """Return a conversion by its identifier; KeyError where the protocol has none of that name."""
        return {conversion.identifier: conversion for conversion in self.conversions}[identifier]
