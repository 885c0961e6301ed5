"""Reading measuring protocols from TOML. Every fault of a file is named at once, with its line."""

import difflib
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from sheetgen.errors import TemplateError, UsageError
from sheetgen.model.protocol import Conversion, Equation, Protocol, Site
from sheetgen.store.templates import templates_folder

__all__ = ["find_protocol", "load_protocol", "shipped_protocols"]

_LARGEST_FILE = 200_000  # bytes
_DIRECTIONS = ("vertical", "diagonal", "horizontal")
_FORMS = {"quadratic": ("constant", "sum_linear", "sum_squared", "age")}

_Table = Mapping[str, Any]
_Place = tuple[str | int, ...]
"""Keys, and indices from 0, that lead to a value."""

_Check = Callable[[Any], str]
"""Returns what was expected, or nothing where the value is right."""


@dataclass(frozen=True, slots=True)
class _Fault:
    place: _Place
    found: str
    expected: str


def _text(value: Any) -> str:
    right = isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= 500
    return "" if right else "one line of text, 1 to 500 characters"


def _texts(value: Any) -> str:
    right = isinstance(value, list) and 1 <= len(value) <= 8 and not any(map(_text, value))
    return "" if right else "a list of 1 to 8 texts, each one line of 1 to 500 characters"


def _pattern(pattern: str, expected: str) -> _Check:
    return lambda value: "" if isinstance(value, str) and re.fullmatch(pattern, value) else expected


def _number(value: Any) -> str:
    right = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e6
    return "" if right else "a number"


def _positive(value: Any) -> str:
    return "" if not _number(value) and value > 0 else "a number above 0"


def _not_negative(value: Any) -> str:
    return "" if not _number(value) and value >= 0 else "a number of at least 0"


def _truth(value: Any) -> str:
    return "" if isinstance(value, bool) else "true or false"


def _table(value: Any) -> str:
    return "" if isinstance(value, dict) else "a table"


def _tables(value: Any) -> str:
    right = isinstance(value, list) and 1 <= len(value) <= 30 and not any(map(_table, value))
    return "" if right else "1 to 30 tables"


def _one_of(words: Sequence[str]) -> _Check:
    def check(value: Any) -> str:
        return "" if value in words else " or ".join(words) + _near(value, words)

    return check


_identifier = _pattern(
    r"[a-z][a-z0-9-]{0,39}", "1 to 40 lower case letters, digits and hyphens, a letter first"
)
# A word stands behind prefixes (site_chest, third_chest, zero_2_chest). Besides equal words only `mm`
# would give a cell name that is taken: zero_2_mm.
_word = _pattern(
    r"(?!mm$)[a-z][a-z_]{0,29}", "1 to 30 lower case letters and underscores, a letter first, not `mm`"
)

_PROTOCOL: Mapping[str, _Check] = {
    "identifier": _identifier,
    "title": _text,
    "standard": _text,
    "default_conversion": _identifier,
    "notes": _texts,
    "sites": _tables,
    "equations": _tables,
    "conversions": _tables,
}
_SITE: Mapping[str, _Check] = {
    "word": _word,
    "title": _text,
    "direction": _one_of(_DIRECTIONS),
    "trunk": _truth,
    "landmark": _text,
    "cues": _texts,
}
_EQUATION: Mapping[str, _Check] = {
    "identifier": _identifier,
    "sex": _one_of(("female", "male")),
    "form": _one_of(tuple(_FORMS)),
    "coefficients": _table,
    "age_minimum": _not_negative,
    "age_maximum": _not_negative,
    "sum_minimum": _not_negative,
    "sum_maximum": _not_negative,
    "standard_error_density": _positive,
    "standard_error_percent": _positive,
    "sample": _text,
    "source": _text,
}
_CONVERSION: Mapping[str, _Check] = {
    "identifier": _identifier,
    "title": _text,
    "numerator": _positive,
    "offset": _positive,
    "source": _text,
}
_OPTIONAL = ("sum_minimum", "sum_maximum")
_KEY_OF_ITS_OWN = {"sites": "word", "equations": "identifier", "conversions": "identifier"}


def load_protocol(path: Path) -> Protocol:
    """Return the protocol in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, is above 200 kB, is not UTF-8 or not TOML, or does not hold a
        protocol; the message lists every fault, with its line where that can be found.
    """
    text = _read(path)
    try:
        table = tomllib.loads(text)
    # Besides its own error the parser lets through ValueError (numbers of thousands of digits) and
    # RecursionError (thousands of nested brackets).
    except (ValueError, RecursionError) as fault:
        line = re.search(r"\(at line (\d+)", str(fault))
        at_end = "end of document" in str(fault)
        place = f"{path}:{line[1] if line else text.count(chr(10)) + 1}" if line or at_end else str(path)
        raise TemplateError(
            place, f"not TOML: {fault}", "key = value, each key once", "Correct this line and try again."
        ) from fault
    faults = [*_faults_of_form(table), *_faults_of_sense(table)]
    if faults:
        raise _error(path, faults, _lines(text))
    return _protocol(table)


def shipped_protocols() -> tuple[str, ...]:
    """Return the identifiers of the shipped protocols, sorted."""
    return tuple(sorted(path.stem for path in (templates_folder() / "protocols").glob("*.toml")))


def find_protocol(identifier: str) -> Protocol:
    """Return a shipped protocol by its identifier.

    Raises
    ------
    UsageError : there is none of that name.
    """
    shipped = shipped_protocols()
    if identifier not in shipped:
        near = difflib.get_close_matches(identifier, shipped, n=1)
        remedy = f"Did you mean '{near[0]}'?" if near else "Choose one of these, or give the path of a file."
        raise UsageError("protocol", f"no protocol '{identifier}'", " or ".join(shipped), remedy)
    return load_protocol(templates_folder() / "protocols" / f"{identifier}.toml")


def _read(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except OSError as fault:
        raise TemplateError(
            path, f"it cannot be read ({fault.strerror})", "a protocol file", "Check the path."
        ) from fault
    if len(data) > _LARGEST_FILE:
        raise TemplateError(
            path, "more than 200 kB", "a protocol file of a few kB", "Check that this is the right file."
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise TemplateError(
            f"{path}:{line}", f"byte {fault.start + 1} is not UTF-8", "UTF-8 text", "Save the file as UTF-8."
        ) from fault


def _near(value: Any, words: Sequence[str]) -> str:
    near = difflib.get_close_matches(value, words, n=1) if isinstance(value, str) else []
    return f" (did you mean '{near[0]}'?)" if near else ""


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return f"a {'table' if isinstance(value, dict) else 'list'} of {len(value)}"
    text = {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _check_table(
    table: _Table, checks: Mapping[str, _Check], place: _Place, optional: Sequence[str] = ()
) -> Iterator[_Fault]:
    for key in table:
        if key not in checks:
            expected = "one of " + ", ".join(checks) + _near(key, tuple(checks))
            yield _Fault((*place, key), "unknown key", expected)
    for key, check in checks.items():
        if key in table:
            expected = check(table[key])
            if expected:
                yield _Fault((*place, key), _shown(table[key]), expected)
        elif key not in optional:
            yield _Fault((*place, key), "missing", check(None))


def _tables_of(table: _Table, key: str) -> list[_Table]:
    """Return the tables under a key, none where something else stands there."""
    value = table.get(key)
    return value if isinstance(value, list) and not any(map(_table, value)) else []


def _faults_of_form(protocol: _Table) -> Iterator[_Fault]:
    """Find unknown and missing keys, and values of the wrong kind."""
    yield from _check_table(protocol, _PROTOCOL, ())
    for key, checks in (("sites", _SITE), ("equations", _EQUATION), ("conversions", _CONVERSION)):
        for index, table in enumerate(_tables_of(protocol, key)):
            yield from _check_table(table, checks, (key, index), _OPTIONAL)
    for index, equation in enumerate(_tables_of(protocol, "equations")):
        coefficients, form = equation.get("coefficients"), equation.get("form")
        if isinstance(coefficients, dict) and isinstance(form, str) and form in _FORMS:
            checks = dict.fromkeys(_FORMS[form], _number)
            yield from _check_table(coefficients, checks, ("equations", index, "coefficients"))


def _faults_of_sense(protocol: _Table) -> Iterator[_Fault]:
    """Find values that are right one by one and wrong together."""
    for key, own in _KEY_OF_ITS_OWN.items():
        seen: list[object] = []
        for index, table in enumerate(_tables_of(protocol, key)):
            value = table.get(own)
            if value is not None and value in seen:
                yield _Fault((key, index, own), f"{_shown(value)} a second time", "each only once")
            seen.append(value)
    equations = _tables_of(protocol, "equations")
    for index, equation in enumerate(equations):
        yield from _faults_of_equation(equation, ("equations", index))
    for (_, one), (index, other) in combinations(enumerate(equations), 2):
        if one.get("sex") == other.get("sex") and _ages_overlap(one, other):
            expected = "one equation for a sex and an age"
            yield _Fault(("equations", index, "age_minimum"), "ages shared with an equation above", expected)
    for index, conversion in enumerate(_tables_of(protocol, "conversions")):
        offset, numerator = _value(conversion, "offset"), _value(conversion, "numerator")
        if _not_below(offset, numerator):
            yield _Fault(("conversions", index, "offset"), _shown(offset), f"less than {_shown(numerator)}")
    default = protocol.get("default_conversion")
    known = [str(conversion.get("identifier")) for conversion in _tables_of(protocol, "conversions")]
    if not _identifier(default) and known and default not in known:
        yield _Fault(("default_conversion",), _shown(default), " or ".join(known) + _near(default, known))


def _value(table: _Table, key: str) -> float | None:
    """Return a number, None where none stands there."""
    value = table.get(key)
    return None if _number(value) else float(value)  # type: ignore[arg-type]


def _not_below(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and low >= high


def _ages_overlap(one: _Table, other: _Table) -> bool:
    limits = [_value(table, f"age_{end}") for table in (one, other) for end in ("maximum", "minimum")]
    return _not_below(limits[0], limits[3]) and _not_below(limits[2], limits[1])


def _faults_of_equation(equation: _Table, place: _Place) -> Iterator[_Fault]:
    for kind in ("age", "sum"):
        low, high = _value(equation, f"{kind}_minimum"), _value(equation, f"{kind}_maximum")
        if _not_below(low, high) and low != high:
            expected = f"at least {kind}_minimum, {_shown(low)}"
            yield _Fault((*place, f"{kind}_maximum"), _shown(high), expected)
    coefficients = equation.get("coefficients")
    if equation.get("form") != "quadratic" or not isinstance(coefficients, dict):
        return
    linear, squared = _value(coefficients, "sum_linear"), _value(coefficients, "sum_squared")
    limits = (_value(equation, key) if key in equation else 0.0 for key in _OPTIONAL)
    for limit in sorted({limit for limit in limits if limit is not None}):
        # The slope of the quadratic; at and beyond its vertex a thicker fold would read as less fat.
        if linear is not None and squared is not None and linear + 2 * squared * limit >= 0:
            found = f"a density that does not fall at a sum of {limit} mm"
            yield _Fault((*place, "coefficients"), found, "a larger sum that gives a lower density")


def _lines(text: str) -> dict[_Place, int]:
    """Return the line of every table and key that stands at the start of a line, counted from 1."""
    lines: dict[_Place, int] = {}
    counts: dict[_Place, int] = {}
    table: _Place = ()
    quotes = ""
    for number, line in enumerate(text.split("\n"), start=1):
        header = None if quotes else re.match(r"\s*(\[\[?)\s*([\w.-]+)\s*\]", line)
        key = None if quotes else re.match(r"""\s*(['"]?)([\w.-]+)\1\s*=""", line)
        if header:
            table = ()
            words = header[2].split(".")
            for depth, word in enumerate(words, start=1):
                table = (*table, word)
                if header[1] == "[[" and depth == len(words):
                    counts[table] = counts.get(table, -1) + 1
                if table in counts:
                    table = (*table, counts[table])
            lines.setdefault(table, number)
        elif key:
            lines.setdefault((*table, *key[2].split(".")), number)
        for mark in ('"""', "'''"):
            if quotes in ("", mark) and line.count(mark) % 2:
                quotes = "" if quotes else mark
    return lines


def _described(fault: _Fault, lines: Mapping[_Place, int]) -> tuple[int, str]:
    """Return the line of a fault, or 0, and the words for it."""
    places = (fault.place[:end] for end in range(len(fault.place), 0, -1))
    line = next((lines[place] for place in places if place in lines), 0)
    # People count from 1: `sites 3 direction`.
    words = " ".join(str(part + 1) if isinstance(part, int) else part for part in fault.place)
    return line, f"{words}: {fault.found}; expected {fault.expected}"


def _error(path: Path, faults: Sequence[_Fault], lines: Mapping[_Place, int]) -> TemplateError:
    described = sorted(_described(fault, lines) for fault in faults)
    listed = "".join(f"\n  {f'line {line}, ' if line else ''}{words}" for line, words in described)
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return TemplateError(path, count, "a protocol without faults", f"Correct what is named here:{listed}")


def _protocol(table: _Table) -> Protocol:
    """Return the record of a table in which no fault was found."""
    return Protocol(
        identifier=table["identifier"],
        title=table["title"],
        standard=table["standard"],
        sites=tuple(Site(**{**site, "cues": tuple(site["cues"])}) for site in table["sites"]),
        equations=tuple(_equation(equation) for equation in table["equations"]),
        conversions=tuple(
            Conversion(**{**each, "numerator": float(each["numerator"]), "offset": float(each["offset"])})
            for each in table["conversions"]
        ),
        default_conversion=table["default_conversion"],
        notes=tuple(table["notes"]),
    )


def _equation(table: _Table) -> Equation:
    numbers = {key: float(value) for key, value in table.items() if isinstance(value, int | float)}
    coefficients = tuple((name, float(table["coefficients"][name])) for name in _FORMS[table["form"]])
    return Equation(**{**dict.fromkeys(_OPTIONAL), **table, **numbers, "coefficients": coefficients})
