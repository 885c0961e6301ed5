"""What a line of own working would be with a slip in it: one small pure function a slip.

Each takes the ground of the sheet, the line, and the values of the lines above, and yields (value, detail);
the value is None where the slip leads to none.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise

from sheetgen.checking.carry_forward import Ground, SiteGround, Step, density_by, percent_by, worked
from sheetgen.layout.vocabulary import own_decimals
from sheetgen.model.protocol import Equation

__all__ = ["VALUES", "Values", "swapped"]

POUNDS_A_KILOGRAM = 2.2046226218
CENTIMETRES_AN_INCH = 2.54

Found = Iterator[tuple[float | None, str]]
Values = Callable[[Ground, Step, Sequence[float]], Found]


def swapped(value: float, decimals: int) -> tuple[float, ...]:
    """Return a number with two neighbouring digits changed for each other, in every way that makes another.

    Examples
    --------
    >>> swapped(12.4, 1)
    (21.4, 14.2)
    """
    text = f"{abs(value):.{decimals}f}"
    places = [at for at, sign in enumerate(text) if sign != "."]
    found = []
    for left, right in pairwise(places):
        signs = list(text)
        signs[left], signs[right] = signs[right], signs[left]
        changed = math.copysign(float("".join(signs)), value)
        if signs[left] != signs[right]:
            found.append(changed)
    return tuple(found)


def _zero(times: float) -> Values:
    """The zero deducted so many times from each reading: 0, 2, or -1 with the wrong sign."""

    def values(ground: Ground, step: Step, above: Sequence[float]) -> Found:
        right = worked(ground, step.step, above)
        zero = sum(site.zero for site in ground.sites) if step.group == "sum" else _site(ground, step).zero
        yield (None if right is None else right + (1 - times) * zero), ""

    return values


def _zero_once_from_sum(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    """From the sum of uncorrected readings, or once more from a sum that is corrected, or was not at all."""
    zeros = sum(site.zero for site in ground.sites)
    yield sum(above) + zeros - ground.zero, ""
    yield sum(above) - ground.zero, ""


def _third_left_out(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    first, second, third = _corrected(_site(ground, step))
    if _site(ground, step).third_needed and third is not None and first is not None and second is not None:
        yield (first + second) / 2, ""


def _mean_of_three(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    values = [value for value in _corrected(_site(ground, step)) if value is not None]
    if len(values) == 3:
        yield math.fsum(values) / 3, ""


def _one_site(times: int) -> Values:
    """A site in the sum so many times more than once."""

    def values(ground: Ground, step: Step, above: Sequence[float]) -> Found:
        for site, value in zip(ground.sites, above, strict=True):
            yield math.fsum(above) + times * value, site.site

    return values


def _other_sex(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    for one in _others(ground, same_sex=False):
        age = ground.age
        if age is None or not one.age_minimum <= age <= one.age_maximum:
            continue
        if step.group == "density":
            yield density_by(one, above[0], age), one.identifier
        elif not one.gives_density:
            yield percent_by(one, None, above[0]), one.identifier


def _other_age_band(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    for one in _others(ground, same_sex=True):
        yield density_by(one, above[0], ground.age), one.identifier


def _age_misread(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    for age in swapped(ground.age, 0) if ground.age is not None and _has(ground, "age") else ():
        yield density_by(ground.equation, above[0], age), f"{age:g}"


def _age_left_out(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    if _has(ground, "age"):
        yield density_by(ground.equation, above[0], 0.0), ""


def _natural_log(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    if _has(ground, "sum_log10") and above[0] > 0:
        yield _coefficient(ground, "constant") + _coefficient(ground, "sum_log10") * math.log(above[0]), ""


def _square_dropped(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    """S where S^2 should stand."""
    right = density_by(ground.equation, above[0], ground.age)
    if _has(ground, "sum_squared") and right is not None:
        yield right + _coefficient(ground, "sum_squared") * (above[0] - above[0] ** 2), ""


def _square_sign(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    """The term of the square deducted: pulled inside a bracket with a minus before it."""
    right = density_by(ground.equation, above[0], ground.age)
    if _has(ground, "sum_squared") and right is not None:
        yield right - 2 * _coefficient(ground, "sum_squared") * above[0] ** 2, ""


def _density_rounded(decimals: int) -> Values:
    """The density rounded before it was written, or before it was worked on with."""

    def values(ground: Ground, step: Step, above: Sequence[float]) -> Found:
        if step.group == "density":
            density = density_by(ground.equation, above[0], ground.age)
            asked = own_decimals(step.step)
            if density is None or decimals >= asked:
                return
            # 1.04 may be 1.0402 rounded to three places as well: then that is what it is called.
            finer = range(decimals + 1, asked)
            if all(round(density, more) != round(density, decimals) for more in finer):
                yield round(density, decimals), ""
        elif ground.equation is not None and ground.equation.gives_density:
            yield percent_by(ground.equation, ground.conversion, round(above[0], decimals)), ""

    return values


def _other_conversion(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    for one in ground.protocol.conversions if ground.conversion is not None else ():
        if one != ground.conversion:
            yield percent_by(ground.equation, one, above[0]), one.identifier


def _density_multiplied(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    if ground.conversion is not None:
        yield ground.conversion.numerator * above[0] - ground.conversion.offset, ""


def _percent_as_fraction(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    percent = worked(ground, step.step, above)
    # A fraction is written with two decimals at least, not with the one that per cent is asked for.
    if percent is not None and step.yours is not None and abs(step.yours - percent / 100) <= 0.005:
        yield step.yours, ""
    else:
        yield None, ""


def _pounds(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    yield _scaled(ground, step, above, POUNDS_A_KILOGRAM), ""
    if step.group == "fat-free-mass" and ground.mass is not None:
        yield ground.mass * POUNDS_A_KILOGRAM - above[0], ""


def _inches(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    if step.group == "midpoints":
        yield _scaled(ground, step, above, 1 / CENTIMETRES_AN_INCH), ""
        yield _scaled(ground, step, above, CENTIMETRES_AN_INCH), ""
    else:
        yield _scaled(ground, step, above, 0.1 / CENTIMETRES_AN_INCH), ""


def _times(*factors: float) -> Values:
    def values(ground: Ground, step: Step, above: Sequence[float]) -> Found:
        for factor in factors:
            # A hundredth of a per cent value has a name of its own: percent-as-fraction.
            if not (step.group == "fat-percent" and factor == 1 / 100):
                yield _scaled(ground, step, above, factor), ""

    return values


def _scaled(ground: Ground, step: Step, above: Sequence[float], factor: float) -> float | None:
    """The right value times a factor; rounded before or after, whichever comes nearer to what was typed."""
    right = worked(ground, step.step, above)
    if right is None or step.yours is None:
        return None
    ends = sorted((right + half) * factor for half in (-step.half_unit, step.half_unit))
    return min(max(step.yours, ends[0]), ends[1])


def _digits_swapped(ground: Ground, step: Step, above: Sequence[float]) -> Found:
    right = worked(ground, step.step, above)
    if right is not None:
        for decimals in (own_decimals(step.step), own_decimals(step.step) + 1):
            for value in swapped(right, decimals):
                yield value, ""


def _site(ground: Ground, step: Step) -> SiteGround:
    return next(site for site in ground.sites if f"site_{site.site}" == step.step)


def _corrected(site: SiteGround) -> list[float | None]:
    return [
        None if reading is None or zero is None else reading - zero
        for reading, zero in zip(site.readings, site.zeros, strict=True)
    ]


def _others(ground: Ground, same_sex: bool) -> Iterator[Equation]:
    mine = ground.equation
    for one in ground.protocol.equations:
        if mine is not None and one != mine and (one.sex == mine.sex) == same_sex:
            yield one


def _has(ground: Ground, coefficient: str) -> bool:
    return ground.equation is not None and coefficient in dict(ground.equation.coefficients)


def _coefficient(ground: Ground, name: str) -> float:
    return dict(ground.equation.coefficients)[name] if ground.equation is not None else 0.0


VALUES: Mapping[str, Values] = {
    "zero-left-in": _zero(0),
    "zero-twice": _zero(2),
    "zero-wrong-sign": _zero(-1),
    "zero-once-from-sum": _zero_once_from_sum,
    "third-left-out": _third_left_out,
    "mean-of-three": _mean_of_three,
    "site-left-out": _one_site(-1),
    "site-twice": _one_site(1),
    "other-sex": _other_sex,
    "other-age-band": _other_age_band,
    "age-misread": _age_misread,
    "age-left-out": _age_left_out,
    "natural-log": _natural_log,
    "square-dropped": _square_dropped,
    "square-sign": _square_sign,
    "density-rounded-2": _density_rounded(2),
    "density-rounded-3": _density_rounded(3),
    "other-conversion": _other_conversion,
    "density-multiplied": _density_multiplied,
    "percent-as-fraction": _percent_as_fraction,
    "pounds": _pounds,
    "inches": _inches,
    "centimetres": _times(1 / 10),
    "decimal-slip": _times(10, 1 / 10, 100, 1 / 100),
    "digits-swapped": _digits_swapped,
}
"""What a line would be, by the word of the slip."""
