"""Cell addresses as formulas write them, from rows and columns that count from 0."""

import re
from collections.abc import Mapping
from functools import lru_cache, reduce

from sheetgen.workbook.layout import Place

_PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9_]*)\}(?::\{([a-z][a-z0-9_]*)\})?")
_REFERENCE = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,9})")

_MOST_ROWS = 1_048_576
_MOST_COLUMNS = 16_384

# Strings, quoted tab names and bracketed parts match first, so nothing inside them is taken for a
# reference. A word before `(` is a function, before `!` a tab.
_TOKEN = re.compile(
    r"""
    "(?:[^"]|"")*" | '(?:[^']|'')*' | \[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | (?<![\w.\\?$])(?P<reference>
        \$?[A-Za-z]{1,3}\$?[1-9][0-9]{0,6}
        | \$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3}
        | \$?[1-9][0-9]{0,6}:\$?[1-9][0-9]{0,6}
    )(?![\w.\\?(!$]|:[^\W\d][\w.]*!)
    """,
    re.VERBOSE,
)
_PART_OF_REFERENCE = re.compile(r"\$?(?:[A-Za-z]+|[0-9]+)")


def column_letters(column: int) -> str:
    """Return the letters of a column.

    >>> column_letters(0), column_letters(25), column_letters(26)
    ('A', 'Z', 'AA')
    """
    before, letter = divmod(column, 26)
    return (column_letters(before - 1) if before else "") + chr(ord("A") + letter)


def column_number(letters: str) -> int:
    """Return a column counted from 0.

    >>> column_number("A"), column_number("XFD")
    (0, 16383)
    """
    return reduce(lambda number, letter: number * 26 + ord(letter) - 64, letters.upper(), 0) - 1


@lru_cache(maxsize=16_384)
def place_of(reference: str) -> tuple[int, int] | None:
    """Return row and column of a cell reference, from 0; None where it is not one.

    >>> place_of("B9"), place_of("9B")
    ((8, 1), None)
    """
    match = _REFERENCE.fullmatch(reference)
    return None if match is None else (int(match[2]) - 1, column_number(match[1]))


def absolute(row: int, column: int) -> str:
    """Return an absolute address.

    >>> absolute(8, 1)
    '$B$9'
    """
    return f"${column_letters(column)}${row + 1}"


def in_tab(tab_title: str, address: str) -> str:
    """Return an address with its tab in front, quoted where the title needs it.

    >>> in_tab("Readings", "$B$9"), in_tab("Lecturas 1", "$B$9")
    ('Readings!$B$9', "'Lecturas 1'!$B$9")
    """
    if re.fullmatch(r"[A-Za-z_][A-Za-z_]*", tab_title):
        return f"{tab_title}!{address}"
    quoted = tab_title.replace("'", "''")
    return f"'{quoted}'!{address}"


def text_literal(text: str) -> str:
    """Return a text as it stands inside a formula.
    Raises ValueError: the text is longer than the 255 characters a formula may hold.

    >>> text_literal('say "no" twice')
    '"say ""no"" twice"'
    """
    if len(text) > 255:
        raise ValueError(f"a text inside a formula: at most 255 characters, not {len(text)}: {text[:40]}...")
    return '"' + text.replace('"', '""') + '"'


def resolved(template: str, tab: str, places: Mapping[str, Place], titles: Mapping[str, str]) -> str:
    """Return a formula with every `{name}` and `{first}:{last}` replaced by its address, as seen from a tab.
    template : formula text, such as `={sum_mm}/2`. tab : key of the tab the formula stands on; addresses on
    it go without a tab in front. places : name to place. titles : tab key to tab title.
    Raises KeyError: a name has no place.

    >>> at = {"low": ("calculator", 2, 3), "high": ("calculator", 5, 3), "sum_mm": ("results", 8, 1)}
    >>> resolved("=SUM({low}:{high})-{sum_mm}", "results", at, {"calculator": "Calculator"})
    '=SUM(Calculator!$D$3:$D$6)-$B$9'
    """

    def address(match: re.Match[str]) -> str:
        key, row, column = places[match.group(1)]
        cell = absolute(row, column)
        if match.group(2) is not None:
            _, last_row, last_column = places[match.group(2)]
            cell = f"{cell}:{absolute(last_row, last_column)}"
        return cell if key == tab else in_tab(titles[key], cell)

    return _PLACEHOLDER.sub(address, template)


@lru_cache(maxsize=1024)
def shift_formula(formula: str, rows: int, columns: int) -> str:
    """Return a formula with its relative references moved; a reference moved off the sheet is `#REF!`.

    >>> shift_formula('A1+$B$2&"C3"', 1, 2)
    'C2+$B$2&"C3"'
    """

    def part_moved(match: re.Match[str]) -> str:
        part = match[0]
        if part.startswith("$"):
            return part
        if part.isdigit():
            row = int(part) + rows
            return str(row) if 1 <= row <= _MOST_ROWS else "#"
        column = column_number(part) + columns
        return column_letters(column) if 0 <= column < _MOST_COLUMNS else "#"

    def moved(match: re.Match[str]) -> str:
        text = _PART_OF_REFERENCE.sub(part_moved, match["reference"] or "")
        return "#REF!" if "#" in text else text or match[0]

    return _TOKEN.sub(moved, formula)
