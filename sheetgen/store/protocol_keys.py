"""The keys of a protocol file, and what may stand under each: faults that one value shows by itself."""

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sheetgen.model.protocol import FORMS, EquationForm
from sheetgen.store.toml_lines import Place

__all__ = ["Fault", "Table", "form_of", "key_faults", "near", "number_in", "shown", "tables_of"]

Table = Mapping[str, Any]

_Check = Callable[[Any], str]
"""Returns what was expected, or nothing where the value is right."""

# These alone are not allowed as a name in a workbook; `mm` would give a name that is taken: zero_2_mm.
_RESERVED_WORDS = ("c", "false", "mm", "r", "rc", "true")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong at one place of the file."""

    place: Place
    found: str
    expected: str


def _text(value: Any) -> str:
    right = isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= 500
    return "" if right else "one line of text, 1 to 500 characters, without a tab"


def _texts(value: Any) -> str:
    if not (isinstance(value, list) and 1 <= len(value) <= 8):
        return "a list of 1 to 8 texts"
    wrong = [str(number) for number, text in enumerate(value, start=1) if _text(text)]
    return f"a list of 1 to 8 texts, each {_text(None)}; look at number {wrong[0]}" if wrong else ""


def _identifier(value: Any) -> str:
    right = isinstance(value, str) and re.fullmatch(r"[a-z][a-z0-9-]{0,39}", value)
    return "" if right else "1 to 40 lower case letters, digits and hyphens, a letter first"


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


def _tables(least: int) -> _Check:
    def check(value: Any) -> str:
        right = isinstance(value, list) and least <= len(value) <= 30 and not any(map(_table, value))
        return "" if right else f"{least} to 30 tables"

    return check


def _one_of(words: Sequence[str]) -> _Check:
    def check(value: Any) -> str:
        return "" if value in words else " or ".join(words) + near(value, words)

    return check


_PROTOCOL: Mapping[str, _Check] = {
    "identifier": _identifier,
    "title": _text,
    "standard": _text,
    "only": _one_of(("female", "male")),
    "default_conversion": _identifier,
    "notes": _texts,
    "sites": _tables(1),
    "equations": _tables(0),
    "conversions": _tables(0),
}
_SITE: Mapping[str, _Check] = {
    "word": _word,
    "title": _text,
    "direction": _one_of(("vertical", "diagonal", "horizontal")),
    "trunk": _truth,
    "landmark": _text,
    "cues": _texts,
    "figure": _identifier,
}
_EQUATION: Mapping[str, _Check] = {
    "identifier": _identifier,
    "sex": _one_of(("female", "male")),
    "form": _one_of(tuple(FORMS)),
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
_LEFT_OUT_AT_WILL = {
    "": ("only", "equations", "conversions", "default_conversion"),
    "sites": ("figure",),
    "equations": ("sum_minimum", "sum_maximum", "standard_error_density"),
}


def key_faults(protocol: Table) -> Iterator[Fault]:
    """Find unknown and missing keys, and values of the wrong kind."""
    yield from _faults_of_table(protocol, _PROTOCOL, (), _LEFT_OUT_AT_WILL[""])
    for key, checks in (("sites", _SITE), ("equations", _EQUATION), ("conversions", _CONVERSION)):
        for index, table in enumerate(tables_of(protocol, key)):
            yield from _faults_of_table(table, checks, (key, index), _LEFT_OUT_AT_WILL.get(key, ()))
    for index, equation in enumerate(tables_of(protocol, "equations")):
        coefficients, form = equation.get("coefficients"), form_of(equation)
        if isinstance(coefficients, dict) and form is not None:
            checks = dict.fromkeys(form.coefficients, _number)
            yield from _faults_of_table(coefficients, checks, ("equations", index, "coefficients"))


def tables_of(table: Table, key: str) -> list[Table]:
    """Return the tables under a key, none where something else stands there."""
    value = table.get(key)
    return value if isinstance(value, list) and not any(map(_table, value)) else []


def form_of(equation: Table) -> EquationForm | None:
    """Return the form of an equation, None where it names none that is known."""
    form = equation.get("form")
    return FORMS.get(form) if isinstance(form, str) else None


def number_in(table: Any, key: str) -> float | None:
    """Return the number under a key, None where none stands there."""
    value = table.get(key) if isinstance(table, dict) else None
    return None if _number(value) else float(value)  # type: ignore[arg-type]


def near(value: Any, words: Sequence[str]) -> str:
    """Return a question after the word that was perhaps meant, or nothing."""
    close = difflib.get_close_matches(value, words, n=1) if isinstance(value, str) else []
    return f" (did you mean '{close[0]}'?)" if close else ""


def shown(value: Any) -> str:
    """Return a value as a message shows it, at most 60 characters."""
    if isinstance(value, dict | list):
        return f"a {'table' if isinstance(value, dict) else 'list'} of {len(value)}"
    text = {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _faults_of_table(
    table: Table, checks: Mapping[str, _Check], place: Place, at_will: Sequence[str] = ()
) -> Iterator[Fault]:
    for key in table:
        if key not in checks:
            expected = "one of " + ", ".join(checks) + near(key, tuple(checks))
            yield Fault((*place, key), "unknown key", expected)
    for key, check in checks.items():
        if key in table:
            expected = check(table[key])
            if expected:
                yield Fault((*place, key), shown(table[key]), expected)
        elif key not in at_will:
            yield Fault((*place, key), "missing", check(None))
