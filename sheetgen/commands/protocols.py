"""What there is to say of the measuring protocols: a line each, a page each, and both as plain values."""

from decimal import Decimal
from typing import Any

import msgspec

from sheetgen.protocols.protocol import Equation, Protocol
from sheetgen.sheet.working import equation_text


def summary_line(protocol: Protocol) -> str:
    """Return identifier, title, sites, and the ages that have an equation."""
    values = summary_values(protocol)
    spans = ", ".join(f"{sex} {ages}" for sex, ages in values["ages"].items())
    return f"{protocol.identifier:18} {protocol.title}: {' '.join(values['sites'])}; {spans or 'sum only'}"


def summary_values(protocol: Protocol) -> dict[str, Any]:
    """Return what `summary_line` says, as plain values."""
    ages = {}
    for sex in ("female", "male"):
        # The ages that have an equation, such as `18-61`: bands leave no gap.
        bands = [(each.age_minimum, each.age_maximum) for each in protocol.equations if each.sex == sex]
        if bands:
            ages[sex] = f"{_plain(min(bands)[0])}-{_plain(max(high for _, high in bands))}"
    sites = [site.word for site in protocol.sites]
    return {"identifier": protocol.identifier, "title": protocol.title, "sites": sites, "ages": ages}


def page_of(protocol: Protocol) -> list[str]:
    """Return the lines of a page: sites, equations with source, sample, error and range, notes."""
    lines = [f"{protocol.identifier}: {protocol.title}", f"Standard: {protocol.standard}", "", "Sites"]
    for number, site in enumerate(protocol.sites, start=1):
        trunk = "trunk" if site.trunk else "limb"
        lines.append(f"  {number} {site.word} ({site.direction}, {trunk}): {site.landmark}")
        lines += [f"      {cue}" for cue in site.cues]
    lines += ["", "Equations (S sum in mm, A age in years, D density in g/ml)"]
    for equation in protocol.equations:
        lines += _equation_lines(equation)
    if not protocol.equations:
        lines.append("  none: the sum only")
    if protocol.conversions:
        lines += ["", "Density to per cent fat"]
    for conversion in protocol.conversions:
        chosen = " (filled in)" if conversion.identifier == protocol.default_conversion else ""
        formula = f"{_plain(conversion.numerator)} / D - {_plain(conversion.offset)}"
        lines += [f"  {conversion.identifier}{chosen}: {formula}", f"      Source: {conversion.source}"]
    return [*lines, "", "Notes", *(f"  {note}" for note in protocol.notes)]


def as_values(protocol: Protocol) -> dict[str, Any]:
    """Return a whole protocol as plain values, each equation with its text."""
    values: dict[str, Any] = msgspec.to_builtins(protocol)
    for table, equation in zip(values["equations"], protocol.equations, strict=True):
        table["coefficients"] = dict(equation.coefficients)
        table["text"] = equation_text(equation)
    return values


def _equation_lines(equation: Equation) -> list[str]:
    ages = f"{_plain(equation.age_minimum)} to {_plain(equation.age_maximum)} years"
    error = f"{_plain(equation.standard_error_percent)} points of per cent fat"
    if equation.standard_error_density is not None:
        error = f"{_plain(equation.standard_error_density)} g/ml, about {error}"
    return [
        f"  {equation.identifier} ({equation.sex}, {ages}, {_sum_range(equation)}):",
        f"      {equation_text(equation)}",
        f"      Standard error: {error}",
        f"      Sample: {equation.sample}",
        f"      Source: {equation.source}",
    ]


def _sum_range(equation: Equation) -> str:
    low, high = equation.sum_minimum, equation.sum_maximum
    if high is None:
        return "no published range of the sum" if low is None else f"sum from {_plain(low)} mm"
    return f"sum up to {_plain(high)} mm" if low is None else f"sum {_plain(low)} to {_plain(high)} mm"


def _plain(value: float) -> str:
    """Return a number with all its digits, never as a power of ten."""
    return f"{Decimal(repr(value)):f}".removesuffix(".0")
