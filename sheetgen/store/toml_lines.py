"""Where things stand in a TOML file: the line of every key, and the line of every fault of its syntax."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["ParsedToml", "Place", "TomlFault", "line_of", "lines_of", "parsed"]

Place = tuple[str | int, ...]
"""Keys, and indices from 0, that lead to a value."""

_KEY = re.compile(r"""\s*(['"]?)([\w.-]+)\1\s*=""")
_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]")
_MOST_FAULTS = 20


@dataclass(frozen=True, slots=True)
class TomlFault:
    """A fault of the syntax; line 0 where the parser names none."""

    line: int
    found: str
    expected: str


@dataclass(frozen=True, slots=True)
class ParsedToml:
    """What a file says, and what is wrong with its syntax.

    table : the content without the lines that are at fault; None where it cannot be made out.
    faults : in the order of the lines.
    left_out : the keys of the lines that are at fault.
    """

    table: Mapping[str, Any] | None
    faults: tuple[TomlFault, ...]
    left_out: frozenset[str]


def parsed(text: str) -> ParsedToml:
    """Return the content of a TOML text, with every fault of its syntax that one line alone can hold.

    A line `key = value` that is wrong by itself, or gives a key a second time, is left out and the rest read
    on. After any other fault nothing further can be said.
    """
    lines = text.split("\n")
    faults: list[TomlFault] = []
    left_out: set[str] = set()
    while len(faults) < _MOST_FAULTS:
        try:
            return ParsedToml(tomllib.loads("\n".join(lines)), tuple(faults), frozenset(left_out))
        # Besides its own error the parser lets through ValueError (numbers of thousands of digits) and
        # RecursionError (thousands of nested brackets).
        except (ValueError, RecursionError) as fault:
            number = _line_number(str(fault), len(lines))
            line = lines[number - 1] if number else ""
            key = _KEY.match(line)
            twice = key is not None and "overwrite a value" in str(fault)
            faults.append(_fault(number, str(fault), key[2] if key is not None and twice else ""))
            if key is None or not (twice or _is_wrong_alone(line)):
                break
            lines[number - 1] = ""
            left_out |= set() if twice else {key[2].rpartition(".")[2]}
    return ParsedToml(None, tuple(faults), frozenset())


def lines_of(text: str) -> dict[Place, int]:
    """Return the line of every table and key that stands at the start of a line, counted from 1."""
    lines: dict[Place, int] = {}
    counts: dict[Place, int] = {}
    table: Place = ()
    quotes = ""
    for number, line in enumerate(text.split("\n"), start=1):
        header = None if quotes else _HEADER.match(line)
        key = None if quotes else _KEY.match(line)
        if header:
            table = ()
            words = header[2].split(".")
            for depth, word in enumerate(words, start=1):
                table = (*table, word)
                if header[1] == "[[" and depth == len(words):
                    lines.setdefault(table, number)
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


def line_of(place: Place, lines: Mapping[Place, int]) -> int:
    """Return the line of a place, or of the nearest table around it; 0 where there is none."""
    around = (place[:end] for end in range(len(place), 0, -1))
    return next((lines[one] for one in around if one in lines), 0)


def _line_number(message: str, line_count: int) -> int:
    at_line = re.search(r"\(at line (\d+)", message)
    if at_line:
        return int(at_line[1])
    return line_count if "end of document" in message else 0


def _fault(line: int, message: str, key_twice: str) -> TomlFault:
    if key_twice:
        return TomlFault(line, f"the key '{key_twice}' a second time", "each key once in its table")
    return TomlFault(line, f"not TOML: {message}", "key = value, text in quotes, each key once")


def _is_wrong_alone(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        # A list or a long text that goes on below is no fault of its line.
        return not re.search(r"=\s*(\[|\{|\"\"\"|''')", line)
    return False
