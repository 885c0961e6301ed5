"""Formula text moved to another place, as a shared formula's dependants need it."""

import re
from collections.abc import Callable

from sheetgen.layout.address import column_letters, column_number

__all__ = ["shift_formula"]

_MOST_ROWS = 1_048_576
_MOST_COLUMNS = 16_384

# Strings, quoted tab names and bracketed parts match first, so nothing inside them is taken for a
# reference. A word before `(` is a function, before `!` a tab.
_TOKEN = re.compile(
    r"""
    "(?:[^"]|"")*" | '(?:[^']|'')*' | \[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | (?<![\w.\\?$])(?:
        (?P<cell>(?P<column_mark>\$?)(?P<column>[A-Za-z]{1,3})(?P<row_mark>\$?)(?P<row>[1-9][0-9]{0,6}))
        | (?P<columns>\$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3})
        | (?P<rows>\$?[1-9][0-9]{0,6}:\$?[1-9][0-9]{0,6})
    )(?![\w.\\?(!$]|:[^\W\d][\w.]*!)
    """,
    re.VERBOSE,
)


def shift_formula(formula: str, rows: int, columns: int) -> str:
    """Return a formula with its relative references moved; a reference moved off the sheet is `#REF!`.

    Examples
    --------
    >>> shift_formula('A1+$B$2&"C3"', 1, 2)
    'C2+$B$2&"C3"'
    """

    def moved(match: re.Match[str]) -> str:
        if match["cell"]:
            column = _moved_column(match["column_mark"] + match["column"], columns)
            row = _moved_row(match["row_mark"] + match["row"], rows)
            return "#REF!" if column is None or row is None else column + row
        if match["columns"]:
            return _moved_pair(match["columns"], columns, _moved_column)
        if match["rows"]:
            return _moved_pair(match["rows"], rows, _moved_row)
        return match[0]

    return _TOKEN.sub(moved, formula)


def _moved_column(text: str, by: int) -> str | None:
    if text.startswith("$"):
        return text
    number = column_number(text) + by
    return column_letters(number) if 0 <= number < _MOST_COLUMNS else None


def _moved_row(text: str, by: int) -> str | None:
    if text.startswith("$"):
        return text
    number = int(text) + by
    return str(number) if 1 <= number <= _MOST_ROWS else None


def _moved_pair(text: str, by: int, move: Callable[[str, int], str | None]) -> str:
    first, _, last = text.partition(":")
    ends = move(first, by), move(last, by)
    return "#REF!" if ends[0] is None or ends[1] is None else f"{ends[0]}:{ends[1]}"
