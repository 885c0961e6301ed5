"""The own working as a chain: what each line may be, from the line above and from all that lies behind it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.measurement import readings
from sheetgen.protocols.names import ROUNDS, own_decimals, own_steps, reading_name, step_group
from sheetgen.protocols.protocol import Conversion, Equation, Protocol
from sheetgen.protocols.recalculation import (
    LARGEST_ENTRY,
    Entries,
    Results,
    live_values,
    number_of,
    text_of,
    zero_of,
)

Interval = tuple[float, float]
"""Lowest and highest value."""

EXEMPT_STATES = frozenset(
    {"sum-only", "no-equation", "under-18", "sex-outside", "age-outside", "sum-below", "sum-above"}
)
"""States of the estimate in which nobody is asked for one."""

_BINARY_NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class SiteGround:
    """What a site value is worked out from.

    readings, zeros : by round [mm], None where there is none. kept_rounds : those of the site value.
    value : the site value [mm].
    """

    site: str
    readings: tuple[float | None, ...]
    zeros: tuple[float | None, ...]
    kept_rounds: tuple[int, ...]
    third_needed: bool
    value: float

    @property
    def zero(self) -> float:
        """The mean of the zeros of the rounds kept [mm]."""
        kept = [self.zeros[number - 1] or 0.0 for number in self.kept_rounds]
        return sum(kept) / len(kept)


@dataclass(frozen=True, slots=True)
class Ground:
    """What the lines of a sheet are worked out from, besides the line above.

    lengths : by name of the midpoint [cm]. zero : of the first caliper [mm].
    """

    protocol: Protocol
    sites: tuple[SiteGround, ...]
    zero: float
    lengths: Mapping[str, float]
    age: float | None
    mass: float | None
    equation: Equation | None
    conversion: Conversion | None


@dataclass(frozen=True, slots=True)
class Step:
    """One line of own working and what it may be.

    step : the live result. yours : None where nothing usable was typed; `unreadable` where something was.
    basis : `asked`; `exempt` where nobody is asked for it; `no-ground` where an entry behind it is missing;
        `kept-back` where it is one that only the participant can give.
    above_blank : the line above carries nothing.
    inputs : values of the lines above, each as an interval: as written first, then the chains behind.
    expected : what each of the inputs leads to, unrounded.
    correct : from the readings, every line above rounded as asked for.
    """

    step: str
    group: str
    basis: str
    yours: float | None = None
    unreadable: bool = False
    above_blank: bool = False
    inputs: tuple[tuple[Interval, ...], ...] = ()
    expected: tuple[Interval, ...] = ()
    correct: Interval | None = None
    from_line_above: float | None = None
    from_readings: float | None = None
    half_unit: float = 0.0


def steps_of(
    protocol: Protocol, conversion: Conversion | None, entries: Entries, results: Results
) -> tuple[Ground, tuple[Step, ...]]:
    """Return every line of own working of a sheet, in the order of working.

    A line may follow from the line above as written, from any value that was rounded to what is written
    there, or from the chain behind it: it is right where it is within half a unit of the last decimal asked
    for of f(x), for some x within half a unit of the line above, or x unrounded from the lines before that.
    """
    ground = _ground(protocol, conversion, entries, results)
    carried: dict[str, tuple[Interval, ...]] = {}
    rounded: dict[str, Interval] = {}
    written: dict[str, float | None] = {}
    steps = []
    by_name = live_values(results)
    for own, name in own_steps(protocol):
        basis = _basis(entries, results, name, by_name[name] == "")
        yours, half = typed_number(entries, own), half_unit(name)
        typed = Step(name, step_group(name), basis, yours, yours is None and own in entries, half_unit=half)
        if basis != "asked":
            steps.append(typed)
            continue
        above = _above(ground, name)
        ways = _ways(ground, name, above, carried, written)
        live = float(by_name[name] or 0)
        # Next to a sum of 0 the rounding of the line above may lead to no value at all.
        correct = _range(ground, name, tuple(rounded[line] for line in above)) or (live, live)
        rounded[name] = widened(correct, half)
        written[name] = yours
        behind = tuple(expected for _, expected in ways)
        if yours is None:
            carried[name] = tuple(widened(expected, half) for expected in behind)
        else:
            carried[name] = (widened((yours, yours), half), *behind)
        line_above = [number for line in above if (number := written[line]) is not None]
        from_above = worked(ground, name, line_above) if len(line_above) == len(above) else None
        steps.append(
            replace(
                typed,
                above_blank=from_above is None,
                inputs=tuple(inputs for inputs, _ in ways),
                expected=behind,
                correct=correct,
                from_line_above=from_above,
                from_readings=live,
            )
        )
    return ground, tuple(steps)


def half_unit(live_name: str) -> float:
    """Return half a unit of the last decimal asked for.

    Examples
    --------
    >>> half_unit("density_g_ml")
    5e-05
    """
    return float(f"0.5e-{own_decimals(live_name)}")


def typed_number(entries: Entries, name: str) -> float | None:
    """Return a number entry as it was typed, to its last digit; None where there is none of use."""
    value = entries.get(name)
    if value is None or isinstance(value, str) or not abs(value) < LARGEST_ENTRY:
        return None
    return float(value)


def widened(interval: Interval, by: float) -> Interval:
    """Return an interval with as much added at both ends."""
    return interval[0] - by, interval[1] + by


def within(value: float, interval: Interval) -> bool:
    """Tell whether a value lies in an interval, both ends included, in spite of binary noise."""
    noise = _BINARY_NOISE * max(1.0, abs(value))
    return interval[0] - noise <= value <= interval[1] + noise


def worked(ground: Ground, step: str, above: Sequence[float]) -> float | None:
    """Return what a line is by the values of the lines above, None where they lead to nothing.

    above : the site values for the sum [mm]; none for a midpoint or a site; else the one line above.
    """
    group = step_group(step)
    if group == "midpoints":
        return readings.midpoint(ground.lengths[step])
    if group == "sites":
        return next(site.value for site in ground.sites if f"site_{site.site}" == step)
    if group == "sum":
        return math.fsum(above)
    if group == "density":
        return density_by(ground.equation, above[0], ground.age)
    if group == "fat-percent":
        return percent_by(ground.equation, ground.conversion, above[0])
    if ground.mass is None:
        return None
    return ground.mass * above[0] / 100 if group == "fat-mass" else ground.mass - above[0]


def density_by(equation: Equation | None, sum_mm: float, age: float | None) -> float | None:
    """Return the density of a sum by an equation, None where it gives none."""
    if equation is None or not equation.gives_density or age is None or age < 0 or sum_mm <= 0:
        return None
    return equation.value(sum_mm, age)


def percent_by(equation: Equation | None, conversion: Conversion | None, above: float) -> float | None:
    """Return per cent fat from the line above: the sum for a straight line, else the density."""
    if equation is None or above <= 0:
        return None
    if not equation.gives_density:
        return equation.value(above, 0.0)
    return None if conversion is None else conversion.percent(above)


def _above(ground: Ground, step: str) -> tuple[str, ...]:
    """The lines that a line is worked out from."""
    group = step_group(step)
    if group in ("midpoints", "sites"):
        return ()
    if group == "sum":
        return tuple(f"site_{site.site}" for site in ground.sites)
    straight = ground.equation is not None and not ground.equation.gives_density
    line = {
        "density": "sum_mm",
        "fat-percent": "sum_mm" if straight else "density_g_ml",
        "fat-mass": "fat_percent",
        "fat-free-mass": "fat_mass_kg",
    }
    return (line[group],)


def _ways(
    ground: Ground,
    step: str,
    above: tuple[str, ...],
    carried: Mapping[str, tuple[Interval, ...]],
    written: Mapping[str, float | None],
) -> list[tuple[tuple[Interval, ...], Interval]]:
    """Inputs from the lines above with what they lead to: as written first, then the chains behind."""
    if step_group(step) == "sum":
        # As written, blanks from the readings; then all of them from the readings.
        inputs = [tuple(carried[line][0] for line in above), tuple(carried[line][-1] for line in above)]
    else:
        inputs = [(interval,) for interval in carried[above[0]]] if above else [()]
    ways = [(values, _range(ground, step, values)) for values in inputs]
    return [(values, expected) for values, expected in ways if expected is not None]


def _range(ground: Ground, step: str, inputs: tuple[Interval, ...]) -> Interval | None:
    return range_of([worked(ground, step, values) for values in corners(inputs)])


def corners(inputs: tuple[Interval, ...]) -> tuple[tuple[float, ...], ...]:
    """Return the lowest values of some intervals, the middle ones and the highest.

    Every line rises or falls with all lines above it together, so that these span what it can be.
    """
    middle = tuple((low + high) / 2 for low, high in inputs)
    return tuple(low for low, _ in inputs), middle, tuple(high for _, high in inputs)


def range_of(values: Sequence[float | None]) -> Interval | None:
    """Return the interval that holds some values, None where one of them is missing."""
    present = [value for value in values if value is not None]
    return (min(present), max(present)) if present and len(present) == len(values) else None


def _basis(entries: Entries, results: Results, step: str, missing: bool) -> str:
    group = step_group(step)
    if group == "midpoints":
        return "no-ground" if missing else "asked"
    if group == "sites":
        site = next(site for site in results.sites if f"site_{site.site}" == step)
        return "exempt" if site.not_taken else "no-ground" if site.value_mm is None else "asked"
    if any(site.not_taken for site in results.sites):
        return "exempt"
    if group == "sum":
        return "no-ground" if missing else "asked"
    if results.estimate_state in EXEMPT_STATES or text_of(entries, "sex_equation") == "sum-only":
        return "exempt"
    if group in ("fat-mass", "fat-free-mass") and number_of(entries, "mass_kg") is None:
        return "exempt"
    if results.estimate_state in ("age-missing", "sex-missing"):
        return "kept-back"
    if results.estimate_state != "ok":
        return "no-ground"
    return "exempt" if missing else "asked"


def _ground(protocol: Protocol, conversion: Conversion | None, entries: Entries, results: Results) -> Ground:
    sites = tuple(
        SiteGround(
            site.site,
            tuple(number_of(entries, reading_name(number, site.site)) for number in ROUNDS),
            tuple(zero_of(protocol, entries, number, site.site) for number in ROUNDS),
            site.kept_rounds,
            site.third_needed == "yes",
            site.value_mm,
        )
        for site in results.sites
        if site.value_mm is not None
    )
    by_id = {equation.identifier: equation for equation in protocol.equations}
    lengths = {
        f"midpoint_{part}_cm": length
        for part in ("upper_arm", "thigh")
        if (length := typed_number(entries, f"length_{part}_cm")) is not None
    }
    zero, age = number_of(entries, "zero_mm") or 0.0, number_of(entries, "age_years")
    mass, equation = typed_number(entries, "mass_kg"), by_id.get(results.equation_id)
    return Ground(protocol, sites, zero, lengths, age, mass, equation, conversion)
