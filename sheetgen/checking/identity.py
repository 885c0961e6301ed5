"""Whose copy a file is, by what stands inside it."""

import re

from sheetgen.layout.address import column_number
from sheetgen.model.snapshot import Snapshot

__all__ = ["class_code_in", "copy_codes_in", "named_text", "settings_text_in"]

_CHARACTER = "[2-9A-HJKMNP-TV-Z]"
"""Copy codes have no 0, 1, I, L, O, U, so that most other numbers on a sheet are none."""
_COPY_CODE = re.compile(rf"(?<![0-9A-Z-]){_CHARACTER}{{4}}-{_CHARACTER}{{4}}(?![0-9A-Z-])")
_PLACE = re.compile(r"^'?(?P<tab>.*?)'?!\$?(?P<column>[A-Z]{1,2})\$?(?P<row>[0-9]{1,4})$")


def copy_codes_in(snapshot: Snapshot) -> tuple[str, ...]:
    """Return every copy code a file carries, the hidden tab's first, each once.

    Notes
    -----
    The code is printed on the first row of every tab, in a line of text and as the first of the codes there.
    A cell with nothing but such a code is no such line: a tab for notes may hold a telephone number.
    """
    codes = []
    named = named_text(snapshot, "copy_code")
    if _COPY_CODE.fullmatch(named):
        codes.append(named)
    for tab in snapshot.tabs:
        for column in range(8):
            value = tab.value(0, column)
            match = _COPY_CODE.search(value) if isinstance(value, str) else None
            if match and match.group() != str(value).strip():
                codes.append(match.group())
                break
    return tuple(dict.fromkeys(codes))


def class_code_in(snapshot: Snapshot) -> str:
    """Return the class code a file carries, or the empty text."""
    return _beside(snapshot, "class_code")


def settings_text_in(snapshot: Snapshot) -> str:
    """Return the settings a file says it was built with, or the empty text."""
    return named_text(snapshot, "settings") or _beside(snapshot, "settings")


def named_text(snapshot: Snapshot, name: str) -> str:
    """Return the text of a named cell, or the empty text."""
    match = _PLACE.match(snapshot.names.get(name, ""))
    if match is None:
        return ""
    for tab in snapshot.tabs:
        if tab.title.casefold() == match["tab"].replace("''", "'").casefold():
            value = tab.value(int(match["row"]) - 1, column_number(match["column"]))
            return value if isinstance(value, str) else ""
    return ""


def _beside(snapshot: Snapshot, name: str) -> str:
    """The text to the right of a printed name on any tab."""
    for tab in snapshot.tabs:
        for (row, column), state in tab.cells.items():
            if column == 0 and state.value == name:
                value = tab.value(row, 1)
                return value if isinstance(value, str) else ""
    return ""
