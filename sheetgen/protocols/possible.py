"""What follows from the equations of a protocol file: whether it can be true, else what was likely meant.

Limits of our own: wide enough for every published equation, narrow enough for a slip of the keys.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import combinations, pairwise, product

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.measurement import composition
from sheetgen.protocols.protocol import FORMS, EquationForm
from sheetgen.texts.toml_tables import Fault, Place, Table, number_in, tables_of

_NO_AGE = 30.0  # years, where the file says none
_DENSITY = (0.95, 1.11)  # g/ml
_FAT_FREE, _FAT = (1.06, 1.12), (0.88, 0.91)  # g/ml
_FOLD = (5.0, 40.0)  # mm a site, where no range of the sum is published
_FALLING_TO = 120.0  # mm at least, where no highest sum is published: a sheet has no upper bound then
_LEAST_HIGHEST_FOLD = 10.0  # mm a site of a highest sum
_LEAST_RISE = 0.25  # points of per cent fat for 1 mm more at every site
_LARGEST_STEP = 8.0  # points of per cent fat between neighbouring bands of ages

_USUAL = {"constant": 1.1, "sum_linear": -0.0007, "sum_squared": 1e-6, "sum_log10": -0.065, "age": -0.0002}
_USUAL_PERCENT = {"constant": 2.0, "sum_linear": 0.7}
"""The size that published coefficients have, to tell the likely slip from others that would fit."""

_PAIRS = {(495.0, 450.0): "Siri 1961", (457.0, 414.2): "Brozek et al. 1963"}

_FACTORS = {
    "10": "ten times as much", "100": "a hundred times as much", "1000": "a thousand times as much",
    "0.1": "a tenth", "0.01": "a hundredth", "0.001": "a thousandth", "-1": "the other sign",
    "2.302585": "for the common logarithm, if it is the slope of a natural one",
    "0.4342945": "the slope for the common logarithm",
}  # fmt: skip
_OF_LOGARITHMS = ("2.302585", "0.4342945")


class _Case(Struct, frozen=True):
    """An equation with everything its estimates follow from. sums, ages : lowest and highest [mm, years].
    highest_falling : up to which sum it must fall [mm]. pairs : numerator and offset of the conversions that
    make sense, the one filled in first. fat : limits of per cent fat."""

    form: EquationForm
    coefficients: Mapping[str, float]
    sums: tuple[float, float]
    highest_falling: float
    ages: tuple[float, float]
    pairs: Sequence[tuple[float, float]]
    fat: tuple[float, float]
    sites: int

    def value(self, sum_mm: float, age: float) -> float:
        return self.form.value(sum_mm, age, **self.coefficients)

    def percents(self, value: float) -> list[float]:
        """Per cent fat by every conversion, the one filled in first; none where there is no density."""
        if self.form.gives == "percent":
            return [value]
        return [_percent(value, pair) for pair in self.pairs if value > 0]


def impossible(protocol: Table, fat: tuple[float, float]) -> Iterator[Fault]:
    """Find equations, conversions and highest sums from which something follows that cannot be true.
    protocol : as it stands in the file, where every value may be wrong; what is no number is named elsewhere.
    fat : its limits [%]. Every form is straight in the age and rises or falls with the sum: ends tell."""
    sites, equations = len(tables_of(protocol, "sites")), tables_of(protocol, "equations")
    cases = {index: case for index, table in enumerate(equations) if (case := _case(table, sites, fat))}
    pairs: list[tuple[float, float]] = []
    for index, table in enumerate(tables_of(protocol, "conversions")):
        pair = (number_in(table, "numerator") or 0.0, number_in(table, "offset") or 0.0)
        if not 0 < pair[1] < pair[0]:
            continue
        if trouble := _pair_trouble(pair):
            yield Fault(("conversions", index, "numerator"), *_pair_fault(pair, trouble, cases.values()))
        elif table.get("identifier") == protocol.get("default_conversion"):
            pairs.insert(0, pair)
        else:
            pairs.append(pair)
    sound: dict[int, _Case] = {}
    for index, table in enumerate(equations):
        highest, least = number_in(table, "sum_maximum"), _LEAST_HIGHEST_FOLD * sites
        if highest is not None and highest < least:
            in_mm = least <= highest * 10 <= _FOLD[1] * sites
            meant = f"; likely meant: {highest * 10:g}, typed in cm" if in_mm else ""
            expected = f"at least {least:g} mm, 10 mm at each of {sites} sites{meant}"
            yield Fault(("equations", index, "sum_maximum"), f"{highest:g} mm", expected)
        if index in cases:
            case = replace(cases[index], pairs=pairs)
            faults = list(_equation_faults(case, ("equations", index, "coefficients")))
            yield from faults
            sound |= {} if faults else {index: case}
    yield from _step_faults(equations, sound)


def _case(table: Table, sites: int, fat: tuple[float, float]) -> _Case | None:
    """An equation, without conversions; None where something is missing that it follows from."""
    form = table.get("form")
    if not isinstance(form, str) or form not in FORMS:
        return None
    given = {name: number_in(table.get("coefficients"), name) for name in FORMS[form].coefficients}
    numbers = {name: value for name, value in given.items() if value is not None}
    lowest, highest = number_in(table, "sum_minimum"), number_in(table, "sum_maximum")
    youngest, oldest = number_in(table, "age_minimum"), number_in(table, "age_maximum")
    if len(numbers) < len(given) or not sites:
        return None
    known = [max(age, 0.0) for age in (youngest, oldest) if age is not None] or [_NO_AGE]
    if (lowest or 0.0) < 0 or (highest is not None and highest <= (lowest or 0.0)):
        lowest = highest = None
    low, high = (fold * sites for fold in _FOLD)
    sums = (lowest or min(low, highest or low), highest or max(high, lowest or high))
    falling = highest or max(sums[1], _FALLING_TO)
    return _Case(FORMS[form], numbers, sums, falling, (min(known), max(known)), (), fat, sites)


def _percent(density: float, pair: tuple[float, float]) -> float:
    return composition.fat_percent(density, numerator=pair[0], offset=pair[1])


def _beyond(value: float, limits: tuple[float, float]) -> float:
    """How far a value lies outside of its limits; 0 within."""
    return max(limits[0] - value, value - limits[1], 0.0)


def _trouble(case: _Case) -> tuple[str, str]:
    """What follows that cannot be true, where it is worst, and what was expected; empty where all can be."""
    worst, rises = ((False, 0.0), "", ""), []
    for age, sum_mm in product(case.ages, case.sums):
        value = case.value(sum_mm, age)
        percents, where = case.percents(value), f"at a sum of {sum_mm:g} mm and {age:g} years"
        rises += percents[:1]
        if case.form.gives == "density":
            fat = f" and {_round(percents[0])} % fat" if percents else ""
            found = f"a density of {_round(value)} g/ml{fat} {where}"
            beyond = _beyond(value, _DENSITY)
            worst = max(worst, ((beyond > 0, beyond), found, "a density from 0.95 to 1.11 g/ml"))
        for percent in percents:
            limits = f"{case.fat[0]:g} to {case.fat[1]:g} % fat"
            found = f"{_round(percent)} % fat {where}"
            worst = max(worst, ((False, _beyond(percent, case.fat)), found, limits))
    if worst[0][1]:
        return worst[1:]
    if fault := case.form.fault(case.coefficients, case.sums[0], case.highest_falling):
        return fault
    rise = rises[1] - rises[0] if rises else math.inf
    if rise >= _LEAST_RISE * (case.sums[1] - case.sums[0]) / case.sites:
        return "", ""
    ends = (
        f"{_round(fat)} % fat at a sum of {sum_mm:g} mm"
        for fat, sum_mm in zip(rises, case.sums, strict=False)
    )
    expected = f"at least {_LEAST_RISE:g} points more for 1 mm more at every site"
    return f"{' and '.join(ends)}, at {case.ages[0]:g} years", expected


def _equation_faults(case: _Case, place: Place) -> Iterator[Fault]:
    found, expected = _trouble(case)
    if not found:
        return
    meant = _likely(case)
    for name, words in meant.items():
        yield Fault(
            (*place, name),
            f"{_plain(case.coefficients[name])}, which leads to {found}",
            f"{expected}; likely meant: {words}",
        )
    if not meant:
        yield Fault(place, found, f"{expected}; compare sign, decimal point and digits with the print")


def _likely(case: _Case) -> dict[str, str]:
    """By coefficient what was meant, in words: one slip, or else two, without which all could be true."""
    usual = _USUAL if case.form.gives == "density" else _USUAL_PERCENT

    def oddness(name: str, value: float) -> float:
        same_sign = value * usual[name] > 0
        return abs(math.log10(abs(value / usual[name]))) + (0 if same_sign else 1) if value else math.inf

    slips = {name: list(_slips(name, value)) for name, value in case.coefficients.items() if value}
    for count in (1, 2):
        fitting = []
        for names in combinations(slips, count):
            for meant in product(*(slips[name] for name in names)):
                values = {name: value for name, (value, _) in zip(names, meant, strict=True)}
                gain = sum(
                    oddness(name, case.coefficients[name]) - oddness(name, values[name]) for name in names
                )
                if gain > 0 and not _trouble(replace(case, coefficients={**case.coefficients, **values}))[0]:
                    words = [f"{_plain(value)} ({how})" for value, how in meant]
                    fitting.append((gain, dict(zip(names, words, strict=True))))
        fitting.sort(key=lambda one: -one[0])
        if fitting:
            best = fitting[0][1]
            same = [words for _, words in fitting if words.keys() == best.keys()][: 3 if count == 1 else 1]
            return {name: " or ".join(words[name] for words in same) for name in best}
    return {}


def _slips(name: str, value: float) -> Iterator[tuple[float, str]]:
    """What may have been meant by a number: a value and in words how it came about."""
    number = Decimal(repr(value))
    for factor, words in _FACTORS.items():
        if factor not in _OF_LOGARITHMS:
            yield float(number * Decimal(factor)), words
        elif name == "sum_log10":
            yield float(f"{float(number) * float(factor):.3g}"), words
    text = f"{number:f}"
    digits = [place for place, letter in enumerate(text) if letter.isdigit()]
    for first, second in pairwise(digits):
        letters = list(text)
        letters[first], letters[second] = letters[second], letters[first]
        if letters[first] != letters[second] and "0" not in (letters[first], letters[second]):
            yield float("".join(letters)), "two digits swapped"


def _pair_trouble(pair: tuple[float, float]) -> str:
    """A pair 100 (C1 / D - C2): C1 / C2 is the density of the fat-free mass, C1 / (1 + C2) that of fat."""
    fat_free, fat = pair[0] / pair[1], pair[0] / (100 + pair[1])
    if not (_beyond(fat_free, _FAT_FREE) or _beyond(fat, _FAT)):
        return ""
    return f"a fat-free mass of {fat_free:.4g} and fat of {fat:.3g} g/ml"


def _pair_fault(pair: tuple[float, float], trouble: str, cases: Iterable[_Case]) -> tuple[str, str]:
    """What was found and expected of a conversion, with what it gives for the first equation."""
    numerator, offset = pair
    meant = [(*pair, title) for pair, title in _PAIRS.items() if numerator == pair[0] or offset == pair[1]]
    meant += [(numerator * 100, offset * 100, "both a hundred times as much: per cent, no fraction")]
    meant += [(numerator, other, f"the offset: {words}") for other, words in _slips("", offset)]
    meant += [(other, offset, f"the numerator: {words}") for other, words in _slips("", numerator)]
    fitting = [
        f"; likely meant: {one:g} and {two:g} ({words})"
        for one, two, words in meant
        if one > two > 0 and not _pair_trouble((one, two))
    ]
    found = f"{numerator:g} with the offset {offset:g}, which leads to {trouble}"
    for case in cases:
        density = case.value(case.sums[0], case.ages[0])
        if case.form.gives == "density" and not _beyond(density, _DENSITY):
            where = f"at a sum of {case.sums[0]:g} mm and {case.ages[0]:g} years"
            found += f", and to {_round(_percent(density, pair))} % fat {where}"
            break
    return found, "1.06 to 1.12 for the fat-free mass and 0.88 to 0.91 g/ml for fat" + next(iter(fitting), "")


def _step_faults(equations: Sequence[Table], sound: Mapping[int, _Case]) -> Iterator[Fault]:
    """Neighbouring bands of ages of one sex, compared where they meet and at the sums that both take."""
    order = sorted(sound, key=lambda index: (str(equations[index].get("sex")), sound[index].ages))
    for before, after in pairwise(order):
        one, other = sound[before], sound[after]
        if equations[before].get("sex") != equations[after].get("sex"):
            continue
        ages, steps = (one.ages[1], other.ages[0]), []
        for sum_mm in (max(one.sums[0], other.sums[0]), min(one.sums[1], other.sums[1])):
            first, second = (
                case.percents(case.value(sum_mm, age)) for case, age in zip((one, other), ages, strict=True)
            )
            if first and second:
                steps.append((abs(first[0] - second[0]), first[0], second[0], sum_mm))
        step, low, high, sum_mm = max(steps, default=(0.0, 0.0, 0.0, 0.0))
        if step > _LARGEST_STEP:
            found = f"{low:.3g} % fat at {ages[0]:g} years and {high:.3g} % at {ages[1]:g}"
            found += f", at a sum of {sum_mm:g} mm"
            expected = (
                f"at most {_LARGEST_STEP:g} points between neighbouring bands; compare both with the print"
            )
            yield Fault(("equations", after, "coefficients"), found, expected)


def _round(value: float) -> str:
    """A number as a message shows it: 1.05, 12.3, 5,638."""
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _plain(value: float) -> str:
    return f"{Decimal(repr(value)):f}".removesuffix(".0")
