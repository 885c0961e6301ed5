"""The own working as a chain: what each line may be, from the line above and from all that lies behind it."""

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.measurement import readings
from sheetgen.protocols.names import ROUNDS, own_decimals, own_steps, reading_name, step_group
from sheetgen.protocols.protocol import Conversion, Equation, Protocol
from sheetgen.protocols.recalculation import (
    LARGEST_ENTRY,
    Entries,
    Results,
    lacks_zero,
    live_values,
    number_of,
    text_of,
    zero_of,
)
from sheetgen.protocols.settings import SheetSettings

Interval = tuple[float, float]  # Lowest and highest value.

_BASES = {"ok": "asked", "sum-missing": "no-ground", "age-missing": "kept-back", "sex-missing": "kept-back"}
"""State of the estimate to the basis of what follows from it; in every other nobody is asked for one."""

_BINARY_NOISE = 1e-9


class SiteGround(Struct, frozen=True):
    """What a site value is worked out from. value : the site value [mm]. zero : the mean of the zeros of the
    rounds kept [mm]. taken : (reading, zero) [mm] of every round that has both."""

    site: str
    value: float
    zero: float
    taken: tuple[tuple[float, float], ...]
    third_needed: bool

    @property
    def corrected(self) -> tuple[float, ...]:
        """The readings less their zeros [mm]."""
        return tuple(reading - zero for reading, zero in self.taken)


class Ground(Struct, frozen=True):
    """What the lines of a sheet are worked out from, besides the line above.
    sites : by name of the line. midpoints : by name of the line [cm]. zero : of the first caliper [mm]."""

    protocol: Protocol
    settings: SheetSettings
    sites: Mapping[str, SiteGround]
    midpoints: Mapping[str, float]
    zero: float
    age: float | None
    mass: float | None
    equation: Equation | None
    conversion: Conversion | None


class Step(Struct, frozen=True):
    """One line of own working and what it may be.
    step : the live result. yours : None where nothing usable was typed; `unreadable` where something was.
    basis : `asked`; `exempt` where nobody is asked for it; `no-ground` where an entry behind it is missing,
    `no-zero` where it is a zero; `kept-back` where it is one that only the participant can give. A line that
    was typed is asked for as soon as it follows from the lines above, whatever is missing. as_fraction : per
    cent below 1, as the % sign makes of 10.9 %: yours is a hundred times what was typed. inputs : values of
    the lines above, each as an interval: as written first, then the chains behind. expected : what each of
    the inputs leads to, unrounded. correct : from the readings, every line above rounded as asked for.
    from_line_above, from_readings : None where those carry nothing."""

    step: str
    group: str
    basis: str
    yours: float | None = None
    unreadable: bool = False
    as_fraction: bool = False
    inputs: tuple[tuple[Interval, ...], ...] = ()
    expected: tuple[Interval, ...] = ()
    correct: Interval = (0.0, 0.0)
    from_line_above: float | None = None
    from_readings: float | None = None

    @property
    def half_unit(self) -> float:
        """Half a unit of the last decimal asked for."""
        return float(f"0.5e-{own_decimals(self.step)}")

    @property
    def carried(self) -> tuple[Interval, ...]:
        """What the line below may go on from: what is written here first, then the chains behind."""
        if self.yours is None:
            return tuple(widened(expected, self.half_unit) for expected in self.expected)
        typed = widened((self.yours, self.yours), self.half_unit)
        # Whoever works on in cells works with the fraction itself.
        fraction = ((typed[0] / 100, typed[1] / 100),) if self.as_fraction else ()
        return (typed, *fraction, *self.expected)


def steps_of(
    protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results
) -> tuple[Ground, tuple[Step, ...]]:
    """Return every line of own working of a sheet, in the order of working. A line may follow from the line
    above as written, from any value that was rounded to what is written there, or from the chain behind it:
    it is right where it is within half a unit of the last decimal asked for of f(x), for some x within half a
    unit of the line above, or x unrounded from the lines before that."""
    ground, live = _ground(protocol, settings, entries, results), live_values(results)
    steps: dict[str, Step] = {}
    for own, name in own_steps(protocol):
        basis, yours = _basis(protocol, entries, results, name), typed_number(entries, own)
        step = Step(name, step_group(name), basis, yours, yours is None and own in entries)
        value = live[name]
        step = _followed(ground, step, steps, None if isinstance(value, str) else value)
        steps[name] = _with_its_sign(step) if name == "fat_percent" else step
    return ground, tuple(steps.values())


def _with_its_sign(step: Step) -> Step:
    """Per cent below 1 as a hundred times what was typed, unless the lines above lead to so little."""
    follows = (widened(expected, step.half_unit) for expected in step.expected)
    if step.yours is None or not 0 < step.yours < 1 or any(within(step.yours, one) for one in follows):
        return step
    return replace(step, yours=step.yours * 100, as_fraction=True)


def _followed(ground: Ground, step: Step, before: Mapping[str, Step], live: float | None) -> Step:
    """A line with all that it may be by the lines before it. live : what it is from the readings."""
    if step.basis == "exempt":
        return step
    inputs: list[tuple[Interval, ...]]
    # The line above is the last one asked for: where an equation gives no density there is no such line.
    above = [line for line in before.values() if line.basis != "exempt"][-1:]
    if step.group in ("midpoints", "sites"):
        above, inputs = [], [()]
    elif step.group == "sum":
        above = [line for line in before.values() if line.group == "sites"]
        # As written, blanks from the readings; then all of them from the readings.
        carried = [line.carried for line in above]
        inputs = [tuple(each[end] for each in carried) for end in (0, -1)] if all(carried) else []
    else:
        inputs = [(interval,) for interval in above[0].carried]
    ways = [(values, _range(ground, step, values)) for values in inputs]
    written = [line.yours for line in above if line.yours is not None]
    rounded = tuple(widened(line.correct, line.half_unit) for line in above)
    expected = tuple(expected for _, expected in ways if expected)
    by_chain = live or 0.0
    return replace(
        step,
        basis="asked" if expected and step.yours is not None else step.basis,
        inputs=tuple(values for values, expected in ways if expected),
        expected=expected,
        # Next to a sum of 0 the rounding of the line above may lead to no value at all.
        correct=(live is not None and _range(ground, step, rounded)) or (by_chain, by_chain),
        from_line_above=worked(ground, step.step, written) if len(written) == len(above) else None,
        from_readings=live,
    )


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
    above : the site values for the sum [mm]; none for a midpoint or a site; else the one line above."""
    group = step_group(step)
    if group == "midpoints":
        return ground.midpoints.get(step)
    if group == "sites":
        return ground.sites[step].value if step in ground.sites else None
    if group == "sum":
        return math.fsum(above)
    if group in ("fat-mass", "fat-free-mass"):
        if ground.mass is None:
            return None
        return ground.mass * above[0] / 100 if group == "fat-mass" else ground.mass - above[0]
    equation, conversion = ground.equation, ground.conversion
    if above[0] <= 0:
        return None
    if group == "density":
        if equation is None or not equation.gives_density or ground.age is None or ground.age < 0:
            return None
        return equation.value(above[0], ground.age)
    if equation is not None and not equation.gives_density:
        return equation.value(above[0], 0.0)
    # A density that was typed leads on, also where nobody can tell by which equation it was found.
    return None if conversion is None else conversion.percent(above[0])


def _range(ground: Ground, step: Step, inputs: tuple[Interval, ...]) -> Interval | None:
    """What some values of the lines above lead to, None where one of them leads to nothing."""
    found = [worked(ground, step.step, values) for values in corners(inputs)]
    values = [value for value in found if value is not None]
    return (min(values), max(values)) if len(values) == len(found) else None


def corners(inputs: tuple[Interval, ...]) -> tuple[tuple[float, ...], ...]:
    """Return the lowest values of some intervals, the middle ones and the highest. Every line rises or falls
    with all lines above it together, so that these span what it can be."""
    middle = tuple((low + high) / 2 for low, high in inputs)
    return tuple(low for low, _ in inputs), middle, tuple(high for _, high in inputs)


def _basis(protocol: Protocol, entries: Entries, results: Results, step: str) -> str:
    """As far as the entries behind a line tell; the lines above may tell more."""
    group, missing = step_group(step), live_values(results)[step] == ""
    not_taken = {f"site_{site.site}" for site in results.sites if site.not_taken}
    if step in not_taken or (not_taken and group not in ("midpoints", "sites")):
        return "exempt"
    if group == "sites":
        no_zero = missing and lacks_zero(protocol, entries, step.removeprefix("site_"))
        return "no-zero" if no_zero else "no-ground" if missing else "asked"
    if group in ("midpoints", "sum"):
        return "no-ground" if missing else "asked"
    without_mass = group in ("fat-mass", "fat-free-mass") and number_of(entries, "mass_kg") is None
    if without_mass or text_of(entries, "sex_equation") == "sum-only":
        return "exempt"
    basis = _BASES.get(results.estimate_state, "exempt")
    known = text_of(entries, "sex_equation") and number_of(entries, "age_years") is not None
    if basis == "no-ground" and known and _equation(protocol, entries, results) is None:
        return "exempt"
    return "exempt" if basis == "asked" and missing else basis


def _equation(protocol: Protocol, entries: Entries, results: Results) -> Equation | None:
    """The equation that fits sex and age, also where readings for a sum are missing."""
    sex, age = text_of(entries, "sex_equation"), number_of(entries, "age_years")
    for equation in protocol.equations:
        by_entries = equation.sex == sex and age is not None
        fits = by_entries and equation.age_minimum <= (age or 0.0) <= equation.age_maximum
        if equation.identifier == results.equation_id or (results.estimate_state == "sum-missing" and fits):
            return equation
    return None


def _ground(protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results) -> Ground:
    sites = {}
    for site in results.sites:
        if site.value_mm is not None:
            taken = [number_of(entries, reading_name(number, site.site)) for number in ROUNDS]
            zeros = [zero_of(protocol, entries, number, site.site) for number in ROUNDS]
            both = zip(taken, zeros, strict=True)
            kept = [zeros[number - 1] or 0.0 for number in site.kept_rounds]
            pairs = ((reading, zero) for reading, zero in both if reading is not None and zero is not None)
            facts = site.value_mm, sum(kept) / len(kept), tuple(pairs), site.third_needed == "yes"
            sites[f"site_{site.site}"] = SiteGround(site.site, *facts)
    lengths = {part: typed_number(entries, f"length_{part}_cm") or 0.0 for part in ("upper_arm", "thigh")}
    midpoints = {f"midpoint_{part}_cm": readings.midpoint(cm) for part, cm in lengths.items() if cm > 0}
    zero, age = number_of(entries, "zero_mm") or 0.0, number_of(entries, "age_years")
    mass, equation = typed_number(entries, "mass_kg"), _equation(protocol, entries, results)
    conversion = next((one for one in protocol.conversions if one.identifier == settings.conversion), None)
    return Ground(protocol, settings, sites, midpoints, zero, age, mass, equation, conversion)
