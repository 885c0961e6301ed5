"""Faults of a protocol file: of single values, and of values that are wrong only together."""

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, pairwise
from typing import Any

from sheetgen.protocols.protocol import FORMS, EquationForm
from sheetgen.texts import toml_tables as toml
from sheetgen.texts.toml_tables import (
    Check,
    Fault,
    Place,
    Table,
    near,
    number_in,
    shown,
    table_faults,
    tables_of,
)

# These alone are not allowed as a name in a workbook; `mm` would give a name that is taken: zero_2_mm.
_RESERVED_WORDS = ("c", "false", "mm", "r", "rc", "true")

_SEXES = ("female", "male")
_KEY_OF_ITS_OWN = {"sites": "word", "equations": "identifier", "conversions": "identifier"}

_TRUNK_SITES = frozenset(("chest", "midaxillary", "subscapular", "abdominal", "suprailiac"))
"""On the trunk whatever a protocol says, since care for minors hangs on it (common practice)."""


def _word(value: Any) -> str:
    """A word stands behind prefixes in the names of cells (site_chest, reading_1_chest)."""
    expected = "1 to 30 lower case letters and underscores, a letter first"
    if not isinstance(value, str):
        return expected
    if re.fullmatch(r"[a-z]{1,3}\d+|r\d+c\d+", value, re.IGNORECASE):
        return f"{expected}; this looks like the address of a cell and cannot be its name"
    if value in _RESERVED_WORDS:
        return f"{expected}; not one of {', '.join(_RESERVED_WORDS)}, which cannot be the name of a cell"
    return "" if re.fullmatch(r"[a-z][a-z_]{0,29}", value) else expected


_TEXT, _TEXTS = toml.text(500), toml.texts(8, 500)
_PROTOCOL: Mapping[str, Check] = {
    "identifier": toml.identifier,
    "title": _TEXT,
    "standard": _TEXT,
    "only": toml.one_of(("female", "male")),
    "default_conversion": toml.identifier,
    "notes": _TEXTS,
    "sites": toml.tables(1, 30),
    "equations": toml.tables(0, 30),
    "conversions": toml.tables(0, 30),
}
_SITE: Mapping[str, Check] = {
    "word": _word,
    "title": _TEXT,
    "direction": toml.one_of(("vertical", "diagonal", "horizontal")),
    "trunk": toml.truth,
    "landmark": _TEXT,
    "cues": _TEXTS,
    "figure": toml.identifier,
}
_EQUATION: Mapping[str, Check] = {
    "identifier": toml.identifier,
    "sex": toml.one_of(("female", "male")),
    "form": toml.one_of(tuple(FORMS)),
    "coefficients": toml.table,
    "age_minimum": toml.not_negative,
    "age_maximum": toml.not_negative,
    "sum_minimum": toml.not_negative,
    "sum_maximum": toml.not_negative,
    "standard_error_density": toml.positive,
    "standard_error_percent": toml.positive,
    "sample": _TEXT,
    "source": _TEXT,
}
_CONVERSION: Mapping[str, Check] = {
    "identifier": toml.identifier,
    "title": _TEXT,
    "numerator": toml.positive,
    "offset": toml.positive,
    "source": _TEXT,
}
_LEFT_OUT_AT_WILL = {
    "": ("only", "equations", "conversions", "default_conversion"),
    "sites": ("figure",),
    "equations": ("sum_minimum", "sum_maximum", "standard_error_density"),
}


def key_faults(protocol: Table) -> Iterator[Fault]:
    """Find unknown and missing keys, and values of the wrong kind."""
    yield from table_faults(protocol, _PROTOCOL, (), _LEFT_OUT_AT_WILL[""])
    for key, checks in (("sites", _SITE), ("equations", _EQUATION), ("conversions", _CONVERSION)):
        for index, table in enumerate(tables_of(protocol, key)):
            yield from table_faults(table, checks, (key, index), _LEFT_OUT_AT_WILL.get(key, ()))
    for index, equation in enumerate(tables_of(protocol, "equations")):
        coefficients, form = equation.get("coefficients"), equation.get("form")
        if isinstance(coefficients, dict) and isinstance(form, str) and form in FORMS:
            checks = dict.fromkeys(FORMS[form].coefficients, toml.number)
            yield from table_faults(coefficients, checks, ("equations", index, "coefficients"))


def sense_faults(protocol: Table) -> Iterator[Fault]:
    """Find values that are right one by one and wrong together."""
    for key, own in _KEY_OF_ITS_OWN.items():
        seen: list[object] = []
        for index, table in enumerate(tables_of(protocol, key)):
            value = table.get(own)
            if value is not None and value in seen:
                yield Fault((key, index, own), f"{shown(value)} a second time", "each only once")
            seen.append(value)
    for index, site in enumerate(tables_of(protocol, "sites")):
        if site.get("word") in _TRUNK_SITES and site.get("trunk") is False:
            yield Fault(("sites", index, "trunk"), "false", f"true: {site['word']} is on the trunk")
    equations = tables_of(protocol, "equations")
    for index, equation in enumerate(equations):
        place = ("equations", index)
        yield from _range_faults(equation, place)
        yield from _form_faults(equation, place)
    yield from _sex_faults(protocol, equations)
    for sex in _SEXES:
        yield from _band_faults([pair for pair in enumerate(equations) if pair[1].get("sex") == sex])
    yield from _conversion_faults(protocol, equations)


def _at_least(low: float | None, high: float | None) -> bool:
    """Whether the one is known to be as large as the other."""
    return low is not None and high is not None and low >= high


def _range_faults(equation: Table, place: Place) -> Iterator[Fault]:
    for kind in ("age", "sum"):
        low, high = number_in(equation, f"{kind}_minimum"), number_in(equation, f"{kind}_maximum")
        if _at_least(low, high) and low != high:
            yield Fault((*place, f"{kind}_maximum"), shown(high), f"at least {kind}_minimum, {shown(low)}")


def _form_faults(equation: Table, place: Place) -> Iterator[Fault]:
    form, error = form_of(equation), "standard_error_density"
    if form is None:
        return
    if form.gives == "density" and error not in equation:
        yield Fault((*place, error), "missing", "a number above 0, in g/ml")
    if form.gives == "percent" and error in equation:
        yield Fault((*place, error), shown(equation[error]), "none: this form gives no density")
    numbers = {name: number_in(equation.get("coefficients"), name) for name in form.coefficients}
    low = number_in(equation, "sum_minimum") or 0.0
    high = (number_in(equation, "sum_maximum") or low) if "sum_maximum" in equation else None
    fault = form.fault({name: value for name, value in numbers.items() if value is not None}, low, high)
    if fault is not None:
        name, found, expected = fault
        yield Fault((*place, "coefficients", *filter(None, (name,))), found, expected)


def form_of(equation: Table) -> EquationForm | None:
    """Return the form of an equation, None where it names none that is known."""
    form = equation.get("form")
    return FORMS.get(form) if isinstance(form, str) else None


def _sex_faults(protocol: Table, equations: Sequence[Table]) -> Iterator[Fault]:
    only = protocol.get("only")
    if not equations:
        if only in _SEXES:
            yield Fault(("only",), shown(only), "no such key: there are no equations")
        return
    wanted = (only,) if only in _SEXES else _SEXES
    present = [equation.get("sex") for equation in equations]
    if any(sex not in _SEXES for sex in present):
        return
    for sex in wanted:
        if sex not in present:
            other = "male" if sex == "female" else "female"
            way_out = "" if only in _SEXES else f' (or the line: only = "{other}")'
            yield Fault(("equations",), f"no equation for {sex}", f"at least one{way_out}")
    for index, equation in enumerate(equations):
        if equation["sex"] not in wanted:
            yield Fault(("equations", index, "sex"), shown(equation["sex"]), f"{only}, as in the key `only`")


def _band_faults(equations: Sequence[tuple[int, Table]]) -> Iterator[Fault]:
    """Faults of the age bands of one sex. Ages are whole years, so that 20 follows on 19."""
    for (_, one), (index, other) in combinations(equations, 2):
        if _ages_overlap(one, other):
            expected = "one equation for a sex and an age"
            yield Fault(("equations", index, "age_minimum"), "ages shared with an equation above", expected)
    bands = []
    for index, equation in equations:
        low, high = number_in(equation, "age_minimum"), number_in(equation, "age_maximum")
        if low is not None and high is not None:
            bands.append((low, high, index))
    bands.sort()
    for (_, high, _), (low, _, index) in pairwise(bands):
        if low > high + 1:
            found = f"{shown(low)}, after a band that ends at {shown(high)}"
            expected = f"no gap between the bands: {shown(high + 1)}"
            yield Fault(("equations", index, "age_minimum"), found, expected)


def _ages_overlap(one: Table, other: Table) -> bool:
    limits = [number_in(table, f"age_{end}") for table in (one, other) for end in ("maximum", "minimum")]
    return _at_least(limits[0], limits[3]) and _at_least(limits[2], limits[1])


def _conversion_faults(protocol: Table, equations: Sequence[Table]) -> Iterator[Fault]:
    conversions = tables_of(protocol, "conversions")
    for index, conversion in enumerate(conversions):
        offset, numerator = number_in(conversion, "offset"), number_in(conversion, "numerator")
        if _at_least(offset, numerator):
            yield Fault(("conversions", index, "offset"), shown(offset), f"less than {shown(numerator)}")
    forms = [form_of(equation) for equation in equations]
    if any(form is not None and form.gives == "density" for form in forms):
        if not protocol.get("conversions"):
            yield Fault(("conversions",), "missing", "at least one: an equation gives a density")
        if "default_conversion" not in protocol:
            yield Fault(("default_conversion",), "missing", "the identifier of one of the conversions")
    elif None not in forms:
        for key in ("conversions", "default_conversion"):
            if protocol.get(key):
                yield Fault((key,), shown(protocol[key]), "no such key: no equation gives a density")
    yield from _default_faults(protocol.get("default_conversion"), conversions)


def _default_faults(default: Any, conversions: Sequence[Table]) -> Iterator[Fault]:
    known = [str(conversion.get("identifier")) for conversion in conversions]
    if isinstance(default, str) and known and default not in known:
        yield Fault(("default_conversion",), shown(default), " or ".join(known) + near(default, known))
