"""Short makers of cells, rules and formulas, so that a tab reads like what it shows."""

import math
import unicodedata
from collections.abc import Iterable, Sequence

from msgspec import Struct

from sheetgen.texts.languages import Texts, shown_number
from sheetgen.workbook.layout import Cell, Rule, Value


class Line(Struct, frozen=True):
    """A line of the hidden tab. formula : empty for a fixed value. first : value at hand-out."""

    name: str
    formula: str
    first: Value = ""


def chain(tests: Sequence[tuple[str, str]], otherwise: str = '""') -> str:
    """Return a formula text that gives what belongs to the first test that holds.

    >>> chain([("A1>1", "1"), ("A1>0", "2")])
    'IF(A1>1,1,IF(A1>0,2,""))'
    """
    text = otherwise
    for test, then in reversed(tests):
        text = f"IF({test},{then},{text})"
    return text


def counted(tests: Iterable[str]) -> str:
    """Return a formula text that gives how many tests hold.

    >>> counted(["A1>1", "A2>1"])
    'IF(A1>1,1,0)+IF(A2>1,1,0)'
    """
    return "+".join(f"IF({test},1,0)" for test in tests)


def label(row: int, column: int, text: Value, format: str = "text", name: str = "", across: int = 1) -> Cell:
    """Return a fixed cell."""
    return Cell(row, column, "label", text, name, "", format, across=across)


def entry(row: int, column: int, name: str, rule: Rule, format: str, value: Value = None) -> Cell:
    """Return an entry cell, unlocked and named."""
    return Cell(row, column, "entry", value, name=name, format=format, rule=rule, named=True)


def formula(
    row: int,
    column: int,
    text: str,
    first: Value = "",
    format: str = "text",
    name: str = "",
    named: bool = False,
) -> Cell:
    """Return a formula cell with its first cached result."""
    return Cell(row, column, "formula", first, name=name, formula=text, format=format, named=named)


def identity(row: int, column: int, name: str, format: str = "text", named: bool = False) -> Cell:
    """Return a cell whose value differs by copy."""
    return Cell(row, column, "identity", None, name=name, format=format, named=named)


def title_bar(title: str, line: str, columns: int) -> list[Cell]:
    """Return the first two rows of a tab across its columns: its title, and what it is for."""
    cells = [label(0, 0, title, "bar_title"), label(1, 0, line, "steps")]
    return cells + [
        label(row, column, None, format)
        for row, format in enumerate(("bar", "steps"))
        for column in range(1, columns)
    ]


def heading_row(row: int, titles: Sequence[str]) -> list[Cell]:
    """Return a row of table headings from column A on."""
    return [label(row, column, title, "heading") for column, title in enumerate(titles)]


def words_rule(texts: Texts, words: tuple[str, ...], title: str, prompt: str, section: str = "") -> Rule:
    """Return a rule that takes one of some words, offered as a list.
    section : of the texts that show these code words; empty: they are no code words, but names and the like.
    """
    shown = tuple(texts[f"{section}.{word}"] for word in words) if section else words
    error = texts["rule.list"].format(words=", ".join(shown))
    return Rule("list", title, prompt, error[:255], words=shown, codes=() if shown == words else words)


def number_rule(texts: Texts, kind: str, minimum: float, maximum: float, title: str, prompt: str) -> Rule:
    """Return a rule that takes a number in a range; kind is `whole` or `decimal`."""
    limits = {"minimum": shown_number(minimum, texts), "maximum": shown_number(maximum, texts)}
    error = texts[f"rule.{kind}"].format(**limits)
    prompt = f"{prompt}. {error}" if prompt else ""
    return Rule(kind, title, prompt, error, minimum=minimum, maximum=maximum)


def text_rule(texts: Texts, maximum: int, title: str, prompt: str) -> Rule:
    """Return a rule that takes a text of limited length."""
    error = texts["rule.length"].format(maximum=maximum)
    return Rule("length", title, prompt, error, minimum=0, maximum=maximum)


BAR_HEIGHTS = ((0, 30.0), (1, 22.5))
"""Of the two rows on top of a tab [points]."""

_PLAIN = {
    300: "'IJijl", 350: " ,./:;\\|", 400: "()-[]ft", 450: "!r", 500: '"*_`', 550: "?csz", 600: "FLkvxy",
    650: "$0123456789EPSTYabdeghnopqu{}", 700: "ABCKRVXZ", 750: "NU", 800: "&DGHOQ", 850: "#+<=>^w~",
    900: "M", 1000: "%@Wm",
}  # fmt: skip
_BOLD = {
    350: " 'ijl", 400: ",./:;IJ\\|", 450: "-f", 500: "!()[]_`rt", 550: '"*', 600: "?csz", 650: "Lx",
    700: "$0123456789EFTaekovy", 750: "CPSYZbdghnpqu{}", 800: "ABKRVX", 850: "#+<=>DGHNU^~", 900: "&OQ",
    950: "w", 1000: "@M", 1050: "%m", 1150: "W",
}  # fmt: skip
"""Width in thousandths of the font size, rounded up to the next fifty: DejaVu Sans, measured."""

_OTHER = 1000
_FONT_POINTS = 12.0
_DOTS_A_POINT = 96 / 72
_LINE = 1.25
"""Height of a line, in sizes of its type."""
_POINTS_AROUND = 4.0
_CELL_PADDING = 6
_TALLEST = 409.0
"""The tallest row the file format knows [points]."""


class _Widths(dict[str, int]):
    """Letter to its width; one with an accent is as wide as the letter."""

    def __missing__(self, letter: str) -> int:
        return self.get(unicodedata.normalize("NFD", letter)[0], _OTHER)


_WIDTHS = {
    bold: _Widths((letter, width) for width, letters in table.items() for letter in letters)
    for bold, table in ((False, _PLAIN), (True, _BOLD))
}


def text_pixels(text: str, bold: bool = False, points: float = _FONT_POINTS) -> float:
    """Return the width of a text in one line [px at 100 %].

    >>> round(text_pixels("mm", points=12.0))
    32
    """
    return sum(map(_WIDTHS[bold].__getitem__, text)) / 1000 * points * _DOTS_A_POINT


def column_pixels(width: float) -> int:
    """Return how wide a column of so many characters is [px at 100 %].

    >>> column_pixels(10)
    75
    """
    return int(width * 7 + 5)


def lines_needed(
    text: str, width: float, bold: bool = False, indent: int = 0, points: float = _FONT_POINTS
) -> int:
    """Return the lines of a text that is wrapped at its spaces in a column of so many characters.
    indent : steps of indentation, as a format says them. points : size of the type.

    >>> lines_needed("one two", 5), lines_needed("one two", 20)
    (2, 1)
    """
    room = column_pixels(width) - _CELL_PADDING - 9 * indent
    space = text_pixels(" ", bold, points)
    lines, filled = 1, 0.0
    for word in text.split():
        wide = text_pixels(word, bold, points)
        if filled and filled + space + wide > room:
            lines, filled = lines + 1, 0.0
        # A word wider than the column is broken inside.
        lines += max(math.ceil(wide / room) - 1, 0)
        filled = (filled + space if filled else 0.0) + wide
    return lines


def height_for(lines: int, points: float = _FONT_POINTS) -> float:
    """Return the height of a row that holds so many lines of a type of this size [points].

    >>> height_for(2)
    34.0
    """
    return min(_LINE * points * lines + _POINTS_AROUND, _TALLEST)
