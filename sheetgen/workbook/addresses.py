"""Cell addresses as formulas write them, from rows and columns that count from 0."""

import re
from collections.abc import Mapping

from sheetgen.workbook.layout import Place

_PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9_]*)\}(?::\{([a-z][a-z0-9_]*)\})?")


def column_letters(column: int) -> str:
    """Return the letters of a column.

    Examples
    --------
    >>> column_letters(0), column_letters(25), column_letters(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    column += 1
    while column:
        column, remainder = divmod(column - 1, 26)
        letters = chr(ord("A") + remainder) + letters
    return letters


def column_number(letters: str) -> int:
    """Return a column counted from 0.

    Examples
    --------
    >>> column_number("A"), column_number("XFD")
    (0, 16383)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1


def absolute(row: int, column: int) -> str:
    """Return an absolute address.

    Examples
    --------
    >>> absolute(8, 1)
    '$B$9'
    """
    return f"${column_letters(column)}${row + 1}"


def in_tab(tab_title: str, address: str) -> str:
    """Return an address with its tab in front, quoted where the title needs it.

    Examples
    --------
    >>> in_tab("Readings", "$B$9"), in_tab("Lecturas 1", "$B$9")
    ('Readings!$B$9', "'Lecturas 1'!$B$9")
    """
    if re.fullmatch(r"[A-Za-z_][A-Za-z_]*", tab_title):
        return f"{tab_title}!{address}"
    quoted = tab_title.replace("'", "''")
    return f"'{quoted}'!{address}"


def text_literal(text: str) -> str:
    """Return a text as it stands inside a formula.

    Raises
    ------
    ValueError : the text is longer than the 255 characters a formula may hold.

    Examples
    --------
    >>> text_literal('say "no" twice')
    '"say ""no"" twice"'
    """
    if len(text) > 255:
        raise ValueError(
            f"a text inside a formula has at most 255 characters, not {len(text)}: {text[:40]}..."
        )
    return '"' + text.replace('"', '""') + '"'


def resolved(template: str, tab: str, places: Mapping[str, Place], titles: Mapping[str, str]) -> str:
    """Return a formula with every `{name}` and `{first}:{last}` replaced by its address, as seen from a tab.

    Parameters
    ----------
    template : formula text, such as `={sum_mm}/2`.
    tab : key of the tab the formula stands on; addresses on it go without a tab in front.
    places : name to place. titles : tab key to tab title.

    Raises
    ------
    KeyError : a name has no place.

    Examples
    --------
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
