"""How much room a text takes, so that no row cuts it off; measured for a wide typeface, so that it fits in
the narrower ones as well."""

import math
import unicodedata

__all__ = ["column_pixels", "height_for", "lines_needed", "text_pixels"]

_PLAIN = {
    300: "'IJijl",
    350: " ,./:;\\|",
    400: "()-[]ft",
    450: "!r",
    500: '"*_`',
    550: "?csz",
    600: "FLkvxy",
    650: "$0123456789EPSTYabdeghnopqu{}",
    700: "ABCKRVXZ",
    750: "NU",
    800: "&DGHOQ",
    850: "#+<=>^w~",
    900: "M",
    1000: "%@Wm",
}
_BOLD = {
    350: " 'ijl",
    400: ",./:;IJ\\|",
    450: "-f",
    500: "!()[]_`rt",
    550: '"*',
    600: "?csz",
    650: "Lx",
    700: "$0123456789EFTaekovy",
    750: "CPSYZbdghnpqu{}",
    800: "ABKRVX",
    850: "#+<=>DGHNU^~",
    900: "&OQ",
    950: "w",
    1000: "@M",
    1050: "%m",
    1150: "W",
}
"""Width in thousandths of the font size, rounded up to the next fifty: DejaVu Sans, measured."""

_OTHER = 1000
_FONT_POINTS = 12.0
_DOTS_A_POINT = 96 / 72
_POINTS_A_LINE = 15.0
_POINTS_AROUND = 4.0
_CELL_PADDING = 6
_TALLEST = 409.0
"""The tallest row the file format knows [points]."""

_WIDTHS = {
    bold: {letter: width for width, letters in table.items() for letter in letters}
    for bold, table in ((False, _PLAIN), (True, _BOLD))
}


def text_pixels(text: str, bold: bool = False, points: float = _FONT_POINTS) -> float:
    """Return the width of a text in one line [px at 100 %].

    Examples
    --------
    >>> round(text_pixels("mm", points=12.0))
    32
    """
    return sum(_letter(letter, bold) for letter in text) / 1000 * points * _DOTS_A_POINT


def column_pixels(width: float) -> int:
    """Return how wide a column of so many characters is [px at 100 %].

    Examples
    --------
    >>> column_pixels(10)
    75
    """
    return int(width * 7 + 5)


def lines_needed(text: str, width: float, bold: bool = False, indent: int = 0) -> int:
    """Return the lines of a text that is wrapped at its spaces in a column of so many characters.

    indent : steps of indentation, as a format says them.

    Examples
    --------
    >>> lines_needed("one two", 5), lines_needed("one two", 20)
    (2, 1)
    """
    room = column_pixels(width) - _CELL_PADDING - 9 * indent
    space = text_pixels(" ", bold)
    lines, filled = 1, 0.0
    for word in text.split():
        wide = text_pixels(word, bold)
        if filled and filled + space + wide > room:
            lines, filled = lines + 1, 0.0
        # A word wider than the column is broken inside.
        lines += max(math.ceil(wide / room) - 1, 0)
        filled = (filled + space if filled else 0.0) + wide
    return lines


def height_for(lines: int) -> float:
    """Return the height of a row that holds so many lines [points].

    Examples
    --------
    >>> height_for(2)
    34.0
    """
    return min(_POINTS_A_LINE * lines + _POINTS_AROUND, _TALLEST)


def _letter(letter: str, bold: bool) -> int:
    plain = unicodedata.normalize("NFD", letter)[0]
    return _WIDTHS[bold].get(plain, _OTHER)
