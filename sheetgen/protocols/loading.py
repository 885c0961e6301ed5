"""Measuring protocols as TOML files: every fault of one, its record, and the shipped ones in any language."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import msgspec

from sheetgen.errors import TemplateError
from sheetgen.protocols.possible import impossible
from sheetgen.protocols.protocol import FORMS, EquationForm, Protocol
from sheetgen.texts import templates
from sheetgen.texts import toml_tables as toml
from sheetgen.texts.languages import DEFAULT_LANGUAGE

# These alone are not allowed as a name in a workbook; `mm` would give a name that is taken: zero_2_mm.
_RESERVED_WORDS = ("c", "false", "mm", "r", "rc", "true")

FAT_MINIMUM, FAT_MAXIMUM = 2.0, 60.0  # Limits of an estimate [%] where a protocol says no others; of our own.

_SEXES = ("female", "male")
_TRUNK_SITES = ("chest", "midaxillary", "subscapular", "abdominal", "suprailiac")
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
_PROTOCOL: Mapping[str, toml.Check] = {
    "identifier": toml.identifier,
    "title": _TEXT,
    "standard": _TEXT,
    "only": toml.one_of(_SEXES),
    "default_conversion": toml.identifier,
    **dict.fromkeys(("fat_minimum", "fat_maximum"), toml.number_between(0, 100)),
    "notes": _TEXTS,
    "sites": toml.tables(1, 30),
    "equations": toml.tables(0, 30),
    "conversions": toml.tables(0, 30),
}
_SITE: Mapping[str, toml.Check] = {
    "word": _word,
    "title": _TEXT,
    "direction": toml.one_of(("vertical", "diagonal", "horizontal")),
    "trunk": toml.truth,
    "landmark": _TEXT,
    "cues": _TEXTS,
    "figure": toml.identifier,
}
_EQUATION: Mapping[str, toml.Check] = {
    "identifier": toml.identifier,
    "sex": toml.one_of(_SEXES),
    "form": toml.one_of(tuple(FORMS)),
    "coefficients": toml.table,
    **dict.fromkeys(("age_minimum", "age_maximum", "sum_minimum", "sum_maximum"), toml.not_negative),
    **dict.fromkeys(("standard_error_density", "standard_error_percent"), toml.positive),
    "sample": _TEXT,
    "source": _TEXT,
}
_CONVERSION: Mapping[str, toml.Check] = {
    "identifier": toml.identifier,
    "title": _TEXT,
    **dict.fromkeys(("numerator", "offset"), toml.positive),
    "source": _TEXT,
}
_LEFT_OUT_AT_WILL = {
    "": ("only", "equations", "conversions", "default_conversion", "fat_minimum", "fat_maximum"),
    "sites": ("figure",),
    "equations": ("sum_minimum", "sum_maximum", "standard_error_density"),
}


def key_faults(protocol: toml.Table) -> Iterator[toml.Fault]:
    """Find unknown and missing keys, and values of the wrong kind."""
    yield from toml.table_faults(protocol, _PROTOCOL, (), _LEFT_OUT_AT_WILL[""])
    for key, checks in (("sites", _SITE), ("equations", _EQUATION), ("conversions", _CONVERSION)):
        for index, table in enumerate(toml.tables_of(protocol, key)):
            yield from toml.table_faults(table, checks, (key, index), _LEFT_OUT_AT_WILL.get(key, ()))
    for index, equation in enumerate(toml.tables_of(protocol, "equations")):
        coefficients, form = equation.get("coefficients"), _form_of(equation)
        if isinstance(coefficients, dict) and form is not None:
            place = ("equations", index, "coefficients")
            yield from toml.table_faults(coefficients, dict.fromkeys(form.coefficients, toml.number), place)


def sense_faults(protocol: toml.Table) -> Iterator[toml.Fault]:
    """Find values that are right one by one and wrong together."""
    for key, own in (("sites", "word"), ("equations", "identifier"), ("conversions", "identifier")):
        values = [table.get(own) for table in toml.tables_of(protocol, key)]
        for index, value in enumerate(values):
            if value is not None and value in values[:index]:
                yield toml.Fault((key, index, own), f"{toml.shown(value)} a second time", "each only once")
    for index, site in enumerate(toml.tables_of(protocol, "sites")):
        if site.get("word") in _TRUNK_SITES and site.get("trunk") is False:
            yield toml.Fault(("sites", index, "trunk"), "false", f"true: {site['word']} is on the trunk")
    equations = toml.tables_of(protocol, "equations")
    for index, equation in enumerate(equations):
        yield from _equation_faults(equation, ("equations", index))
    yield from _sex_faults(protocol, equations)
    for sex in _SEXES:
        yield from _band_faults(equations, sex)
    yield from _conversion_faults(protocol, equations)
    low, high = toml.number_in(protocol, "fat_minimum"), toml.number_in(protocol, "fat_maximum")
    fat = (FAT_MINIMUM if low is None else low, FAT_MAXIMUM if high is None else high)
    if fat[0] >= fat[1]:
        key = "fat_minimum" if high is None else "fat_maximum"
        expected = f"fat_minimum below fat_maximum, {fat[0]:g} and {fat[1]:g} here"
        yield toml.Fault((key,), toml.shown(protocol[key]), expected)
    else:
        yield from impossible(protocol, fat)


def _form_of(equation: toml.Table) -> EquationForm | None:
    form = equation.get("form")
    return FORMS.get(form) if isinstance(form, str) else None


def _equation_faults(equation: toml.Table, place: toml.Place) -> Iterator[toml.Fault]:
    for kind in ("age", "sum"):
        low, high = toml.number_in(equation, f"{kind}_minimum"), toml.number_in(equation, f"{kind}_maximum")
        if low is not None and high is not None and low > high:
            yield toml.Fault(
                (*place, f"{kind}_maximum"), toml.shown(high), f"at least {kind}_minimum, {toml.shown(low)}"
            )
    form, error = _form_of(equation), "standard_error_density"
    if form is None:
        return
    if form.gives == "density" and error not in equation:
        yield toml.Fault((*place, error), "missing", "a number above 0, in g/ml")
    if form.gives == "percent" and error in equation:
        yield toml.Fault((*place, error), toml.shown(equation[error]), "none: this form gives no density")


def _sex_faults(protocol: toml.Table, equations: Sequence[toml.Table]) -> Iterator[toml.Fault]:
    only, present = protocol.get("only"), [equation.get("sex") for equation in equations]
    if not equations and only in _SEXES:
        yield toml.Fault(("only",), toml.shown(only), "no such key: there are no equations")
    if not equations or any(sex not in _SEXES for sex in present):
        return
    wanted = (only,) if only in _SEXES else _SEXES
    for sex, other in zip(_SEXES, reversed(_SEXES), strict=True):
        if sex in wanted and sex not in present:
            way_out = "" if only in _SEXES else f' (or the line: only = "{other}")'
            yield toml.Fault(("equations",), f"no equation for {sex}", f"at least one{way_out}")
    for index, found in enumerate(present):
        if found not in wanted:
            yield toml.Fault(("equations", index, "sex"), toml.shown(found), f"{only}, as in the key `only`")


def _band_faults(equations: Sequence[toml.Table], sex: str) -> Iterator[toml.Fault]:
    """Faults of the age bands of one sex. Ages are whole years, so that 20 follows on 19."""
    bands = []
    for index, equation in enumerate(equations):
        low, high = toml.number_in(equation, "age_minimum"), toml.number_in(equation, "age_maximum")
        if equation.get("sex") == sex and low is not None and high is not None:
            bands.append((low, high, index))
    for (one_low, one_high, _), (low, high, index) in combinations(bands, 2):
        if one_high >= low and high >= one_low:
            expected = "one equation for a sex and an age"
            yield toml.Fault(
                ("equations", index, "age_minimum"), "ages shared with an equation above", expected
            )
    for (_, high, _), (low, _, index) in pairwise(sorted(bands)):
        if low > high + 1:
            found = f"{toml.shown(low)}, after a band that ends at {toml.shown(high)}"
            expected = f"no gap between the bands: {toml.shown(high + 1)}"
            yield toml.Fault(("equations", index, "age_minimum"), found, expected)


def _conversion_faults(protocol: toml.Table, equations: Sequence[toml.Table]) -> Iterator[toml.Fault]:
    conversions, default = toml.tables_of(protocol, "conversions"), protocol.get("default_conversion")
    for index, conversion in enumerate(conversions):
        offset, numerator = toml.number_in(conversion, "offset"), toml.number_in(conversion, "numerator")
        if offset is not None and numerator is not None and offset >= numerator:
            yield toml.Fault(
                ("conversions", index, "offset"), toml.shown(offset), f"less than {toml.shown(numerator)}"
            )
    forms = [_form_of(equation) for equation in equations]
    if any(form is not None and form.gives == "density" for form in forms):
        if not protocol.get("conversions"):
            yield toml.Fault(("conversions",), "missing", "at least one: an equation gives a density")
        if "default_conversion" not in protocol:
            yield toml.Fault(("default_conversion",), "missing", "the identifier of one of the conversions")
    elif None not in forms:
        for key in ("conversions", "default_conversion"):
            if protocol.get(key):
                yield toml.Fault(
                    (key,), toml.shown(protocol[key]), "no such key: no equation gives a density"
                )
    known = [str(conversion.get("identifier")) for conversion in conversions]
    if isinstance(default, str) and known and default not in known:
        yield toml.Fault(
            ("default_conversion",), toml.shown(default), " or ".join(known) + toml.near(default, known)
        )


_KIND = templates.TemplateKind(
    "protocol", "protocols", lambda table: [*key_faults(table), *sense_faults(table)]
)


def protocol_faults(path: Path) -> tuple[toml.FileFault, ...]:
    """Return every fault of a protocol file, in the order of its lines; TemplateError: it cannot be read."""
    return templates.examined(_KIND, path)[1]


def load_protocol(path: Path) -> Protocol:
    """Return the protocol in a TOML file; TemplateError: it cannot be read, or has faults, all listed."""
    table = {"equations": (), "conversions": (), "default_conversion": "", **templates.table_of(_KIND, path)}
    equations = [{**dict.fromkeys(_LEFT_OUT_AT_WILL["equations"]), **each} for each in table["equations"]]
    texts = tomllib.loads(path.read_text(encoding="utf-8-sig"), parse_float=str).get("equations", ())
    for each, text in zip(equations, texts, strict=True):
        names, given = FORMS[each["form"]].coefficients, each["coefficients"]
        each["coefficients"] = [(name, given[name]) for name in names]
        each["digits"] = [f"{Decimal(text['coefficients'][name]).copy_abs():f}" for name in names]
    return msgspec.convert({**table, "equations": equations}, Protocol)


def shipped_protocols() -> tuple[str, ...]:
    """Return the identifiers of the shipped protocols, sorted."""
    return templates.shipped(_KIND)


def find_protocol(identifier: str) -> Protocol:
    """Return a shipped protocol by its identifier, or a teacher's own by the path of its .toml file.
    UsageError : there is none of that name. TemplateError : the file cannot be read, or has faults."""
    path = templates.path_of(_KIND, identifier)
    return load_protocol(path) if identifier.endswith(".toml") else _shipped_protocol(path)


_shipped_protocol = lru_cache(maxsize=32)(load_protocol)


@lru_cache(maxsize=128)
def in_language(protocol: Protocol, language: str) -> Protocol:
    """Return a shipped protocol with its texts in a language; a teacher's own, as it is written. Numbers,
    words of sites, identifiers and sources stay: a protocol is known by its identifier; TemplateError where
    the texts are not as they should be."""
    name = protocol.identifier
    if language == DEFAULT_LANGUAGE or name not in shipped_protocols() or protocol != find_protocol(name):
        return protocol
    texts = protocol_texts(language).get(name, {})
    values = msgspec.to_builtins(protocol)
    try:
        for site in values["sites"]:
            site |= texts.get("sites", {}).get(site["word"], {})
        for equation in values["equations"]:
            equation["sample"] = texts.get("samples", {}).get(equation["identifier"], equation["sample"])
        return msgspec.convert({**values, **texts, "sites": values["sites"]}, Protocol)
    except (AttributeError, TypeError, msgspec.ValidationError) as fault:
        place = f"text/protocols.{language}.toml: {name}"
        raise TemplateError(place, str(fault), "texts and lists of texts", "Mend the section.") from fault


@lru_cache(maxsize=8)
def protocol_texts(language: str) -> toml.Table:
    """Return the texts of protocols in a language by identifier, if any; TemplateError: they are no TOML."""
    place = f"text/protocols.{language}.toml"
    return templates.read_tables(place) if (templates.templates_folder() / place).is_file() else {}
