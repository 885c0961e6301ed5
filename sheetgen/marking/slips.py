"""The library of known slips: what a line of own working would be with one in it, and which of them explain
a line that is not right.

To add one: a row in SLIPS with a function of what the line would be, its two texts in
templates/text/marking.*.toml, and a case in the tests.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal
from functools import partial
from itertools import pairwise
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.marking.carry_forward import (
    Ground,
    Interval,
    SiteGround,
    Step,
    corners,
    widened,
    within,
    worked,
)
from sheetgen.marking.scheme import SlipFit
from sheetgen.measurement import readings
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import OWN_DECIMALS, own_decimals
from sheetgen.protocols.protocol import Equation

POUNDS_A_KILOGRAM = 2.2046226218
CENTIMETRES_AN_INCH = 2.54


class Line(Struct, frozen=True):
    """A line of own working and what was typed there, with values of the lines above it."""

    ground: Ground
    step: Step
    yours: float
    above: Sequence[float]

    def right(self, **changes: Any) -> float | None:
        """The line without a slip, or with something of its ground changed."""
        return worked(replace(self.ground, **changes), self.step.step, self.above)

    @property
    def coefficients(self) -> Mapping[str, float]:
        """Those of the equation, none without one."""
        return {} if self.ground.equation is None else dict(self.ground.equation.coefficients)

    @property
    def site(self) -> SiteGround:
        """The site whose value the line is."""
        return self.ground.sites[self.step.step]

    @property
    def zeros(self) -> float | None:
        """Those of all sites together [mm], None where a site has no value of the sheet."""
        sites = self.ground.sites.values()
        return sum(site.zero for site in sites) if len(sites) == len(self.above) else None

    def equations(self, same_sex: bool) -> list[Equation]:
        """The equations of the protocol beside this one, for the same sex or the other."""
        every, mine = self.ground.protocol.equations, self.ground.equation
        return [one for one in every if mine and one != mine and (one.sex == mine.sex) == same_sex]


Found = Iterator[tuple[float | None, str]]
"""Values with the site, equation or age that each is about; None where the slip leads to none."""


def _zero(times: float, line: Line) -> Found:
    """The zero deducted so many times from each reading: 0, 2, or -1 with the wrong sign."""
    right, zero = line.right(), line.zeros if line.step.group == "sum" else line.site.zero
    yield (None if right is None or zero is None else right + (1 - times) * zero), ""


def _zero_once_from_sum(line: Line) -> Found:
    """From the sum of uncorrected readings, or once more from a sum that is corrected, or was not at all."""
    if line.zeros is not None:
        yield sum(line.above) + line.zeros - line.ground.zero, ""
        yield sum(line.above) - line.ground.zero, ""


def _mean_of_first(count: int, line: Line) -> Found:
    """Of three readings so many: all of them, or the two first though the third was needed."""
    corrected = line.site.corrected
    if len(corrected) == 3 and (count == 3 or line.site.third_needed):
        yield math.fsum(corrected[:count]) / count, ""


def _by_rule(rule: str, line: Line) -> Found:
    """Three readings by the rule that the class does not use."""
    if rule != line.ground.settings.site_rule:
        yield _value_of(line, line.site.taken, rule), ""


def _value_of(line: Line, taken: Sequence[tuple[float, float]], rule: str = "") -> float | None:
    """The site value of other readings, or by another rule."""
    settings = line.ground.settings
    tolerance = readings.Tolerance(settings.tolerance_kind, hundredths(settings.tolerance))
    corrected = [readings.corrected(hundredths(reading), hundredths(zero)) for reading, zero in taken]
    first, second, third = (*corrected, None)[:3]
    value = readings.site_value(first, second, third, tolerance, rule or settings.site_rule)
    return None if value is None else value.millimetres


def _round_1_only(line: Line) -> Found:
    yield line.site.corrected[0], ""


def _rounds_added(line: Line) -> Found:
    """Added and not divided; the zero deducted from each reading, or once."""
    for count in range(2, len(line.site.taken) + 1):
        yield math.fsum(line.site.corrected[:count]), ""
        yield math.fsum(reading for reading, _ in line.site.taken[:count]) - line.site.zero, ""


def _reading_swapped(line: Line) -> Found:
    """Worked out from a reading with two digits swapped."""
    taken = line.site.taken
    for at, (reading, zero) in enumerate(taken):
        for other in swapped(reading, 1):
            yield _value_of(line, (*taken[:at], (other, zero), *taken[at + 1 :])), f"{other:g}"


def _cut(value: float, decimals: int, rounding: str = ROUND_DOWN) -> float:
    """A number with some decimals, whatever noise there is far behind them."""
    return float(Decimal(repr(round(value, 9))).quantize(Decimal(1).scaleb(-decimals), rounding=rounding))


_FEWEST_DECIMALS = {"density": 2}  # Of a line, in other groups 0.


def _truncated(line: Line) -> Found:
    """Digits left off, to the decimals asked for or fewer, where rounding would give another number."""
    right, asked = line.right(), own_decimals(line.step.step)
    for decimals in range(_FEWEST_DECIMALS.get(line.step.group, 0), asked + 1) if right is not None else ():
        value = _cut(right or 0.0, decimals)
        if value != _cut(right or 0.0, decimals, ROUND_HALF_UP):
            yield value, ""


def _rounded_line(line: Line) -> Found:
    """The line itself with fewer decimals than asked for."""
    right, asked = line.right(), own_decimals(line.step.step)
    if right is not None and not line.step.as_fraction:
        yield from ((_cut(right, decimals, ROUND_HALF_UP), "") for decimals in range(asked))


def _rounded_above(line: Line) -> Found:
    """A sum of site values, or a site value of readings, that were rounded to fewer decimals."""
    if line.step.group == "sites":
        whole = [(_cut(reading - zero, 0, ROUND_HALF_UP), 0.0) for reading, zero in line.site.taken]
        yield _value_of(line, whole), ""
    else:
        for decimals in (0, 1):
            yield math.fsum(_cut(value, decimals, ROUND_HALF_UP) for value in line.above), ""


def _one_site(times: int, line: Line) -> Found:
    """A site in the sum so many times more than once."""
    for site, value in zip(line.ground.protocol.sites, line.above, strict=True):
        yield math.fsum(line.above) + times * value, site.word


def _other_sex(line: Line) -> Found:
    age = line.ground.age
    for equation in line.equations(same_sex=False):
        holds = age is not None and equation.age_minimum <= age <= equation.age_maximum
        if holds and (line.step.group == "density" or not equation.gives_density):
            yield line.right(equation=equation), equation.identifier


def _other_age_band(line: Line) -> Found:
    for equation in line.equations(same_sex=True):
        yield line.right(equation=equation), equation.identifier


def _age_misread(line: Line) -> Found:
    if line.ground.age is not None and "age" in line.coefficients:
        for age in swapped(line.ground.age, 0):
            yield line.right(age=age), f"{age:g}"


def _age_left_out(line: Line) -> Found:
    if "age" in line.coefficients:
        yield line.right(age=0.0), ""


def _natural_log(line: Line) -> Found:
    known = line.coefficients
    if "sum_log10" in known and line.above[0] > 0:
        yield known["constant"] + known["sum_log10"] * math.log(line.above[0]), ""


def _square_as(term: Callable[[float], float], line: Line) -> Found:
    """Another term where S^2 should stand."""
    right, total = line.right(), line.above[0]
    if "sum_squared" in line.coefficients and right is not None:
        yield right + line.coefficients["sum_squared"] * (term(total) - total**2), ""


def _rounded_density(decimals: int, line: Line) -> Found:
    """The density rounded before it was written."""
    density = line.right()
    # 1.04 may be 1.0402 rounded to three places as well: then that is what it is called.
    finer = range(decimals + 1, own_decimals(line.step.step))
    if density is not None and all(round(density, more) != round(density, decimals) for more in finer):
        yield round(density, decimals), ""


def _by_rounded_density(decimals: int, line: Line) -> Found:
    """The density rounded before it was worked on with."""
    if line.ground.equation is not None and line.ground.equation.gives_density:
        yield replace(line, above=(round(line.above[0], decimals),)).right(), ""


def _other_conversion(line: Line) -> Found:
    mine = line.ground.conversion
    for conversion in line.ground.protocol.conversions if mine is not None else ():
        if conversion != mine:
            yield line.right(conversion=conversion), conversion.identifier


def _density_multiplied(line: Line) -> Found:
    conversion = line.ground.conversion
    if conversion is not None:
        yield conversion.numerator * line.above[0] - conversion.offset, ""


def _percent_as_fraction(line: Line) -> Found:
    percent = line.right()
    # With one decimal more it is what a % sign makes of a right answer, and right.
    near = line.step.as_fraction and percent is not None and abs(line.yours - percent) <= 0.5
    yield (line.yours if near else None), ""


def _times(factors: Sequence[float], line: Line) -> Found:
    """The right value times a factor; rounded before or after, whichever comes nearer to what was typed."""
    right, half = line.right(), line.step.half_unit
    for factor in factors:
        if right is None:
            yield None, ""
        else:
            yield sorted((line.yours, (right - half) * factor, (right + half) * factor))[1], ""


def _pounds(line: Line) -> Found:
    """The line in pounds, or the mass of the body alone."""
    yield from _times((POUNDS_A_KILOGRAM,), line)
    if line.step.group == "fat-free-mass" and line.ground.mass is not None:
        yield line.ground.mass * POUNDS_A_KILOGRAM - line.above[0], ""


def _digits_swapped(line: Line) -> Found:
    right, asked = line.right(), own_decimals(line.step.step)
    if right is not None:
        yield from ((value, "") for more in (0, 1) for value in swapped(right, asked + more))


def swapped(value: float, decimals: int) -> tuple[float, ...]:
    """Return a number with two neighbouring digits changed for each other, in every way that makes another.

    >>> swapped(12.4, 1)
    (21.4, 14.2)
    """
    text = f"{abs(value):.{decimals}f}"
    places = [at for at, character in enumerate(text) if character != "."]
    found = []
    for left, right in pairwise(places):
        if text[left] != text[right]:
            digits = list(text)
            digits[left], digits[right] = text[right], text[left]
            found.append(math.copysign(float("".join(digits)), value))
    return tuple(found)


class Slip(Struct, frozen=True):
    """A known slip.
    word : its code word; titles stand in the texts under `slip.WORD`, what to redo under `slip_redo.WORD`.
    groups : the groups of lines where it can happen. values : what such a line would be with it.
    family : slips of one family are one mistake, also when they show in several lines; empty: each counts.
    match : `band` (anywhere between the values that allowed rounding leads to), `each` (at one of them), or
    `exact` (digit by digit). throughout : a way of working that shows in every line of its group that it can
    show in; a slip of the hand happens in one line."""

    word: str
    groups: tuple[str, ...]
    values: Callable[[Line], Found]
    family: str = ""
    match: str = "band"
    throughout: bool = False


_FOLDS, _SITES = ("sites", "sum"), ("sites",)
_DENSITY, _PERCENT = ("density",), ("fat-percent",)
_OTHERS = tuple(group for group in OWN_DECIMALS if group != "fat-percent")
_NO_DENSITY = tuple(group for group in OWN_DECIMALS if group != "density")

SLIPS = (
    Slip("zero-left-in", _FOLDS, partial(_zero, 0), "zero", throughout=True),
    Slip("zero-twice", _FOLDS, partial(_zero, 2), "zero", throughout=True),
    Slip("zero-wrong-sign", _FOLDS, partial(_zero, -1), "zero", throughout=True),
    Slip("zero-once-from-sum", ("sum",), _zero_once_from_sum, "zero"),
    Slip("third-left-out", _SITES, partial(_mean_of_first, 2)),
    Slip("mean-of-three", _SITES, partial(_mean_of_first, 3), throughout=True),
    Slip("closest-pair", _SITES, partial(_by_rule, "closest-pair"), throughout=True),
    Slip("middle-of-three", _SITES, partial(_by_rule, "median"), throughout=True),
    Slip("round-1-only", _SITES, _round_1_only, throughout=True),
    Slip("rounds-added", _SITES, _rounds_added),
    Slip("reading-swapped", _SITES, _reading_swapped),
    Slip("length-not-halved", ("midpoints",), partial(_times, (2,))),
    Slip("truncated", tuple(OWN_DECIMALS), _truncated, match="exact"),
    Slip("rounded-early", _NO_DENSITY, _rounded_line, match="exact"),
    Slip("rounded-early", _FOLDS, _rounded_above, match="each"),
    Slip("site-left-out", ("sum",), partial(_one_site, -1)),
    Slip("site-twice", ("sum",), partial(_one_site, 1)),
    Slip("other-sex", (*_DENSITY, *_PERCENT), _other_sex),
    Slip("other-age-band", _DENSITY, _other_age_band),
    Slip("age-misread", _DENSITY, _age_misread),
    Slip("age-left-out", _DENSITY, _age_left_out),
    Slip("natural-log", _DENSITY, _natural_log),
    Slip("square-dropped", _DENSITY, partial(_square_as, lambda total: total)),
    # The square deducted: pulled inside a bracket with a minus before it.
    Slip("square-sign", _DENSITY, partial(_square_as, lambda total: -(total**2))),
    Slip("density-rounded-2", _DENSITY, partial(_rounded_density, 2), match="exact"),
    Slip("density-rounded-3", _DENSITY, partial(_rounded_density, 3), match="exact"),
    Slip("density-rounded-2", _PERCENT, partial(_by_rounded_density, 2), match="each"),
    Slip("density-rounded-3", _PERCENT, partial(_by_rounded_density, 3), match="each"),
    Slip("other-conversion", _PERCENT, _other_conversion),
    Slip("density-multiplied", _PERCENT, _density_multiplied),
    Slip("percent-as-fraction", _PERCENT, _percent_as_fraction),
    Slip("pounds", ("fat-mass", "fat-free-mass"), _pounds, "pounds"),
    Slip("inches", ("midpoints",), partial(_times, (1 / CENTIMETRES_AN_INCH, CENTIMETRES_AN_INCH)), "inches"),
    Slip("inches", _FOLDS, partial(_times, (0.1 / CENTIMETRES_AN_INCH,)), "inches"),
    Slip("centimetres", _FOLDS, partial(_times, (1 / 10,)), "centimetres"),
    Slip("decimal-slip", _OTHERS, partial(_times, (10, 1 / 10, 100, 1 / 100))),
    # A hundredth of a per cent value has a name of its own: percent-as-fraction.
    Slip("decimal-slip", _PERCENT, partial(_times, (10, 1 / 10, 100))),
    Slip("digits-swapped", tuple(OWN_DECIMALS), _digits_swapped, match="exact"),
)
"""A slip that shows in another way in another line has a row for each. Density rounded to four places is no
slip: that is what the sheet asks for."""

FAMILIES = {known.word: known.family for known in SLIPS}  # The family of every slip, by its word.


def explained(ground: Ground, step: Step, extra: float = 0.0) -> tuple[tuple[SlipFit, ...], bool]:
    """Return the slips that explain a line which is not right. extra : what the scheme allows beyond the
    rounding. Every slip that fits equally well, by the line above if one does, else by the chain behind it;
    and whether only slips fit that lead to the same value as no slip, so that nobody can tell."""
    allowed = step.half_unit + extra
    cannot_tell = False
    for inputs in step.inputs:
        fits: dict[SlipFit, bool] = {}
        apart = False
        for fit, exactly, told_apart in _fits(ground, step, inputs, allowed):
            fits[fit] = fits.get(fit, False) or exactly
            apart, cannot_tell = apart or told_apart, cannot_tell or not told_apart
        if apart:
            return tuple(fit for fit, exactly in fits.items() if exactly) or tuple(fits), False
    return (), cannot_tell


def not_contradicted(
    ground: Ground, steps: Sequence[Step], fits: Mapping[str, Sequence[SlipFit]], extra: float = 0.0
) -> dict[str, tuple[SlipFit, ...]]:
    """Return the slips of each line that the other lines of its group leave standing. steps : of one group.
    fits : what explains each of them that is wrong, by its name. extra : what the scheme allows beyond the
    rounding. A way of working is named only where more lines show it than could show it and do not. Of
    several slips that explain a line, those stay that explain the most lines."""
    shown = Counter(word for line in fits.values() for word in {fit.word for fit in line})

    def stands(word: str) -> bool:
        against = sum(
            _would_show(ground, step, word, extra)
            for step in steps
            if step.yours is not None and word not in {fit.word for fit in fits.get(step.step, ())}
        )
        return shown[word] > against or not any(one.throughout for one in SLIPS if one.word == word)

    standing = {word for word in shown if stands(word)}
    found = {}
    for name, line in fits.items():
        most = max((shown[fit.word] for fit in line if fit.word in standing), default=0)
        found[name] = tuple(fit for fit in line if fit.word in standing and shown[fit.word] == most)
    return found


def _would_show(ground: Ground, step: Step, word: str, extra: float) -> bool:
    """Whether a line would be another one with a slip in it."""
    allowed = step.half_unit + extra
    for known in SLIPS if step.inputs else ():
        if known.word == word and step.group in known.groups:
            line = Line(ground, step, step.yours or 0.0, corners(step.inputs[0])[1])
            for value, _ in known.values(line):
                if value is not None and not _overlaps(widened((value, value), allowed), step, allowed):
                    return True
    return False


def _fits(
    ground: Ground, step: Step, inputs: tuple[Interval, ...], allowed: float
) -> Iterator[tuple[SlipFit, bool, bool]]:
    """(slip, whether it fits without rounding of the line above, whether it differs from a right value)."""
    yours = step.yours
    for known in SLIPS:
        if yours is None or step.group not in known.groups:
            continue
        low, middle, high = (list(known.values(Line(ground, step, yours, one))) for one in corners(inputs))
        if known.match == "exact":
            for at, (value, detail) in enumerate((*middle, *low, *high)):
                if value is not None and within(yours, (value, value)):
                    yield SlipFit(known.word, detail), at < len(middle), True
            continue
        for found in zip(low, middle, high, strict=False):
            values = [value for value, _ in found if value is not None]
            if len(values) == len(found):
                each = [widened((value, value), allowed) for value in values]
                bands = [widened((min(values), max(values)), allowed)] if known.match == "band" else each
                if any(within(yours, band) for band in bands):
                    told_apart = not _overlaps(bands[len(bands) // 2], step, allowed)
                    yield SlipFit(known.word, found[1][1]), within(yours, each[1]), told_apart


def _overlaps(band: Interval, step: Step, allowed: float) -> bool:
    right = (widened(expected, allowed) for expected in step.expected)
    return any(band[0] < high and low < band[1] for low, high in right)
