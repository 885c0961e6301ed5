"""TOML files that a person edits: where each key stands, and what may stand under it.

Every fault is found at once and named with its line. A kind of file keeps its own table of keys, each with
a check: a function that says what was expected, or nothing where the value is right.
"""

import difflib
import re
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

Place = tuple[str | int, ...]  # Keys, and indices from 0, that lead to a value.

Table = Mapping[str, Any]

Check = Callable[[Any], str]

_KEY = re.compile(r"""\s*(['"]?)([\w.-]+)\1\s*=""")
_DECIMAL_COMMA = re.compile(r"(\s*[\w.-]+\s*=\s*)([+-]?\d+),(\d+)(?=\s*(?:#.*)?$)")
_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]")
_MOST_FAULTS = 200
_LARGEST_NUMBER = 1e6
_MOST_SHOWN = 10**60


class Fault(Struct, frozen=True):
    """What is wrong at one place of a table."""

    place: Place
    found: str
    expected: str


class FileFault(Struct, frozen=True, order=True):
    """What is wrong in a file.
    line : counted from 1; 0 where it has none, such as a key that is missing at the top. place : keys that
    lead there, tables counted from 1: `sites 3 direction`; empty for the file itself."""

    line: int
    place: str
    found: str
    expected: str


class ParsedToml(Struct, frozen=True):
    """What a file says, and what is wrong with its syntax.
    table : the content without the lines that are at fault; None where it cannot be made out. faults : in the
    order of the lines."""

    table: Table | None
    faults: tuple[FileFault, ...]


def parsed(toml: str) -> ParsedToml:
    """Return the content of a TOML text, with every fault of its syntax that one line alone can hold. A line
    `key = value` that is wrong by itself, or gives a key a second time, is left out and the rest read on; a
    decimal comma is read as the point. After any other fault nothing further can be said."""
    lines = toml.split("\n")
    faults: list[FileFault] = []
    while len(faults) < _MOST_FAULTS:
        try:
            return ParsedToml(tomllib.loads("\n".join(lines)), tuple(faults))
        # Besides its own error the parser lets through ValueError (numbers of thousands of digits) and
        # RecursionError (thousands of nested brackets).
        except (ValueError, RecursionError) as error:
            message = str(error)
        at_line = re.search(r"\(at line (\d+)", message)
        number = int(at_line[1]) if at_line else len(lines) if "end of document" in message else 0
        line = lines[number - 1] if number else ""
        if comma := _DECIMAL_COMMA.match(line):
            meant = f"{comma[2]}.{comma[3]}"
            found, expected = f"a decimal comma: {comma[2]},{comma[3]}", f"a decimal point: {meant}"
            faults.append(FileFault(number, line.partition("=")[0].strip(), found, expected))
            lines[number - 1] = _DECIMAL_COMMA.sub(rf"\g<1>{meant}", line)
            continue
        key = _KEY.match(line)
        twice = "overwrite a value" in message
        found, expected = f"not TOML: {message}", "key = value, text in quotes, each key once"
        if key and twice:
            found, expected = f"the key '{key[2]}' a second time", "each key once in its table"
        faults.append(FileFault(number, "", found, expected))
        if not key or not (twice or _is_wrong_alone(line)):
            break
        lines[number - 1] = ""
    return ParsedToml(None, tuple(faults))


def lines_of(toml: str) -> dict[Place, int]:
    """Return the line of every table and key that stands at the start of a line, counted from 1."""
    lines: dict[Place, int] = {}
    counts: dict[Place, int] = {}
    around: Place = ()
    quotes = ""
    for number, line in enumerate(toml.split("\n"), start=1):
        header = None if quotes else _HEADER.match(line)
        key = None if quotes else _KEY.match(line)
        if header:
            around = ()
            words = header[2].split(".")
            for depth, word in enumerate(words, start=1):
                around = (*around, word)
                if header[1] == "[[" and depth == len(words):
                    lines.setdefault(around, number)
                    counts[around] = counts.get(around, -1) + 1
                if around in counts:
                    around = (*around, counts[around])
            lines.setdefault(around, number)
        elif key:
            lines.setdefault((*around, *key[2].split(".")), number)
        for mark in ('"""', "'''"):
            if quotes in ("", mark) and line.count(mark) % 2:
                quotes = "" if quotes else mark
    return lines


def line_of(place: Place, lines: Mapping[Place, int]) -> int:
    """Return the line of a place, or of the nearest table around it; 0 where there is none."""
    around = (place[:end] for end in range(len(place), 0, -1))
    return next((lines[part] for part in around if part in lines), 0)


def table_faults(
    content: Table, checks: Mapping[str, Check], place: Place = (), optional: Collection[str] = ()
) -> Iterator[Fault]:
    """Find unknown and missing keys, and values that are not right.
    checks : the keys allowed, in the order in which they are named. optional : keys that may be missing."""
    for key in content:
        if key not in checks:
            yield Fault((*place, key), "unknown key", f"one of {', '.join(checks)}{near(key, tuple(checks))}")
    for key, check in checks.items():
        if key in content:
            if expected := check(content[key]):
                yield Fault((*place, key), shown(content[key]), expected)
        elif key not in optional:
            yield Fault((*place, key), "missing", check(None))


def tables_of(content: Table, key: str) -> list[Table]:
    """Return the tables under a key, none where something else stands there."""
    value = content.get(key)
    return value if isinstance(value, list) and not any(map(table, value)) else []


def number_in(content: Any, key: str) -> float | None:
    """Return the number under a key, None where none stands there."""
    value = content.get(key) if isinstance(content, dict) else None
    return float(value) if value is not None and _is_number(value) else None


def near(value: Any, words: Sequence[str]) -> str:
    """Return a question after the word that was perhaps meant, or nothing."""
    close = difflib.get_close_matches(value, words, n=1) if isinstance(value, str) else []
    return f" (did you mean '{close[0]}'?)" if close else ""


def shown(value: Any) -> str:
    """Return a value as a message shows it, at most 60 characters."""
    if isinstance(value, dict | list):
        return f"a {'table' if isinstance(value, dict) else 'list'} of {len(value)}"
    if isinstance(value, int) and abs(value) >= _MOST_SHOWN:
        # Python refuses to write out an integer of thousands of digits, as 0xFFF... may be.
        return "a number of more than 60 digits"
    words = {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value)
    return words if len(words) <= 60 else words[:57] + "..."


def _check(right: Callable[[Any], object], expected: str) -> Check:
    return lambda value: "" if right(value) else expected


def _number_check(right: Callable[[Any], object], expected: str) -> Check:
    """A check that tells of a number in quotes how it is written."""

    def check(value: Any) -> str:
        typed = re.fullmatch(r"\s*([+-]?\d+)(?:[.,](\d+))?\s*", value) if isinstance(value, str) else None
        meant = (
            f", without quotes and with a decimal point: {'.'.join(filter(None, typed.groups()))}"
            if typed
            else ""
        )
        return "" if right(value) else expected + meant

    return check


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= _LARGEST_NUMBER


truth = _check(lambda value: isinstance(value, bool), "true or false")
table = _check(lambda value: isinstance(value, dict), "a table")
number = _number_check(_is_number, "a number")  # Of at most a million, as the others.
positive = _number_check(lambda value: _is_number(value) and value > 0, "a number above 0")
not_negative = _number_check(lambda value: _is_number(value) and value >= 0, "a number of at least 0")
identifier = _check(
    lambda value: isinstance(value, str) and re.fullmatch(r"[a-z][a-z0-9-]{0,39}", value),
    "1 to 40 lower case letters, digits and hyphens, a letter first",
)
"""A name that can be part of a file's name."""


def number_between(low: float, high: float) -> Check:
    """Return a check for a number, both limits allowed."""
    return _check(
        lambda value: _is_number(value) and low <= value <= high, f"a number from {low:g} to {high:g}"
    )


def tables(least: int, most: int) -> Check:
    """Return a check for a list of tables."""
    return _check(
        lambda value: isinstance(value, list) and least <= len(value) <= most and not any(map(table, value)),
        f"{least} to {most} tables",
    )


def text(longest: int) -> Check:
    """Return a check for one line of text."""

    def right(value: Any) -> bool:
        return (
            isinstance(value, str) and bool(value.strip()) and value.isprintable() and len(value) <= longest
        )

    return _check(right, f"one line of text, 1 to {longest} characters, without a tab")


def texts(most: int, longest: int) -> Check:
    """Return a check for a list of texts."""
    each = text(longest)

    def check(value: Any) -> str:
        if not (isinstance(value, list) and 1 <= len(value) <= most):
            return f"a list of 1 to {most} texts"
        wrong = next((place for place, item in enumerate(value, start=1) if each(item)), 0)
        return f"a list of 1 to {most} texts, each {each(None)}; look at number {wrong}" if wrong else ""

    return check


def one_of(words: Sequence[str]) -> Check:
    """Return a check for one of some words."""

    def check(value: Any) -> str:
        return "" if isinstance(value, str) and value in words else " or ".join(words) + near(value, words)

    return check


def list_of(words: Sequence[str]) -> Check:
    """Return a check for a list of at least one of some words, each once."""

    def check(value: Any) -> str:
        if not (isinstance(value, list) and value):
            return f"a list of words out of {', '.join(words)}"
        for place, word in enumerate(value):
            if not isinstance(word, str) or word not in words:
                return f"instead of {shown(word)} one of {', '.join(words)}{near(word, words)}"
            if word in value[place + 1 :]:
                return f"'{word}' only once"
        return ""

    return check


def _is_wrong_alone(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        # A list or a long text that goes on below is no fault of its line.
        return not re.search(r"=\s*(\[|\{|\"\"\"|''')", line)
    return False
