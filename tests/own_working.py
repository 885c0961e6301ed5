"""Own working as a student does it, by formulas written out once more, for the tests of marking."""

import math
from collections.abc import Callable, Mapping

from sheetgen.protocols.names import own_steps
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import SheetSettings
from sheetgen.workbook.layout import Value

DECIMALS = {
    "midpoint": 1, "site": 2, "sum": 2, "density": 4, "fat_percent": 1, "fat_mass": 1, "fat_free": 1,
}  # fmt: skip

Write = Callable[[str, float, int], tuple[float, float]]
"""Line, value on the calculator, decimals asked for: what is written down, and what is worked on with."""


def rounded(line: str, value: float, decimals: int) -> tuple[float, float]:
    """Write what was asked for, and go on from what is written."""
    return round(value, decimals), round(value, decimals)


def lines_by_hand(
    protocol: Protocol,
    settings: SheetSettings,
    entries: Mapping[str, Value],
    slips: Mapping[str, float] | None = None,
    write: Write = rounded,
) -> dict[str, Value]:
    """Return the own entries of a sheet.

    Parameters
    ----------
    slips : live result to what is written instead; every line below follows from that.
    write : what is written of a value, and what is worked on with.
    """
    results = recalculate(protocol, settings, entries)
    age, mass = _number(entries, "age_years"), _number(entries, "mass_kg")
    equation = next((one for one in protocol.equations if one.identifier == results.equation_id), None)
    sites = {f"site_{site.site}": site.value_mm for site in results.sites}
    held: dict[str, float] = {}
    own: dict[str, Value] = {}
    for _, line in own_steps(protocol):
        if line.startswith("midpoint_"):
            value = _number(entries, line.replace("midpoint", "length")) / 2
        elif line in sites:
            site_value = sites[line]
            assert site_value is not None
            value = site_value
        elif line == "sum_mm":
            value = math.fsum(held[site] for site in sites)
        elif equation is None or (line == "density_g_ml" and equation.form == "linear-percent"):
            continue
        elif line == "density_g_ml":
            terms = dict(equation.coefficients)
            value = terms["constant"]
            if equation.form == "log10":
                value += terms["sum_log10"] * math.log10(held["sum_mm"])
            else:
                value += terms["sum_linear"] * held["sum_mm"] + terms["sum_squared"] * held["sum_mm"] ** 2
                value += terms["age"] * age
        elif line == "fat_percent" and equation.form == "linear-percent":
            terms = dict(equation.coefficients)
            value = terms["sum_linear"] * held["sum_mm"] + terms["constant"]
        elif line == "fat_percent":
            conversion = protocol.conversion(settings.conversion)
            value = conversion.numerator / held["density_g_ml"] - conversion.offset
        elif line == "fat_mass_kg":
            value = mass * held["fat_percent"] / 100
        else:
            value = mass - held["fat_mass_kg"]
        decimals = next(number for start, number in DECIMALS.items() if line.startswith(start))
        written, held[line] = write(line, value, decimals)
        if slips and line in slips:
            written = held[line] = slips[line]
        own[f"own_{line}"] = written
    return own


def _number(entries: Mapping[str, Value], name: str) -> float:
    value = entries.get(name)
    return float(value) if isinstance(value, int | float) else 0.0
