"""A measuring protocol as data: sites in circuit order, equations, conversions, sources."""

from dataclasses import dataclass

__all__ = ["FORMS", "Conversion", "Equation", "Protocol", "Site"]

FORMS = {
    "quadratic": ("constant", "sum_linear", "sum_squared", "age"),
    "log10": ("constant", "sum_log10"),
    "linear-percent": ("constant", "sum_linear"),
}
"""Equation forms and their coefficients; S sum in mm, A age in years, D density in g/ml:
quadratic D = constant + sum_linear S + sum_squared S^2 + age A; log10 D = constant + sum_log10 log10(S);
linear-percent fat % = constant + sum_linear S, without a density."""


@dataclass(frozen=True, slots=True)
class Site:
    """One skinfold site.

    word : the code word in names (`chest`), lower case letters and underscores.
    title : what a person reads.
    direction : of the fold: `vertical`, `diagonal` or `horizontal`.
    trunk : on the trunk, not on a limb.
    landmark, cues : where the mark goes and how the fold is taken.
    figure : name of the drawing that shows it; empty: the one of its word.
    """

    word: str
    title: str
    direction: str
    trunk: bool
    landmark: str
    cues: tuple[str, ...]
    figure: str = ""


@dataclass(frozen=True, slots=True)
class Equation:
    """One equation, for one sex and one range of ages.

    identifier : unique in the protocol.
    sex : `female` or `male`: which answer of `sex_equation` picks it.
    form : one of FORMS.
    coefficients : (name, signed value) in the order of the form.
    age_minimum, age_maximum : years, both inclusive.
    sum_minimum, sum_maximum : mm, both inclusive; None where no range is published.
    standard_error_density : g/ml, None where the equation gives per cent fat.
    standard_error_percent : points of per cent fat.
    sample, source : who it was built on, and where it is published.
    """

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


@dataclass(frozen=True, slots=True)
class Conversion:
    """A conversion of density to per cent fat: numerator / D - offset."""

    identifier: str
    title: str
    numerator: float
    offset: float
    source: str


@dataclass(frozen=True, slots=True)
class Protocol:
    """A measuring protocol; `sites` are in circuit order and every one of them is in the sum.

    equations : none: folds only, sum and no estimate.
    conversions, default_conversion : none and empty where no equation gives a density.
    """

    identifier: str
    title: str
    standard: str
    sites: tuple[Site, ...]
    equations: tuple[Equation, ...]
    conversions: tuple[Conversion, ...]
    default_conversion: str
    notes: tuple[str, ...]

    def conversion(self, identifier: str) -> Conversion:
        """Return a conversion by its identifier; KeyError where the protocol has none of that name."""
        for conversion in self.conversions:
            if conversion.identifier == identifier:
                return conversion
        raise KeyError(identifier)
