"""Many workbooks of one tab that differ in its cells: one master by the writing library, then cells for each.

The master has the look and the settings of all of them. Its tab is cut where the cells stand, so that a
workbook costs what its cells cost. The result shows the same as one that the writing library made alone.
"""

import math
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from string import ascii_uppercase
from xml.sax.saxutils import escape

from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

__all__ = ["BOOK", "SHEET", "Cells", "PageMaster", "master_cut", "write_samples"]

SHEET, BOOK, _TEXTS = "xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/sharedStrings.xml"
"""Parts of a workbook of one tab, as the writing library names them."""

_CUT_SHEET = re.compile(
    r'(.*<dimension ref=")[^"]*(".*<sheetData>)(.*)(</sheetData>.*)<mergeCells.*</mergeCells>(.*)', re.DOTALL
)
_CUT_BOOK = re.compile(r"(.*\$A\$1:\$[A-Z]\$)\d+(</definedName>.*)", re.DOTALL)
_SHAPE = re.compile(r'<c r="A\d+" s="(\d+)"')
_TEXTS_BEGIN = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
)
# ECMA-376 part 1, 22.9.2.19: what XML cannot hold is _xHHHH_, and so is a text that looks like that.
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9a-fA-F]{4}_)")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class PageMaster:
    """A master, cut. formats : number of each format by its word, as a cell refers to it.

    sheet : the tab around its extent, its rows and its merged cells. book : around the last printed row.
    """

    formats: Mapping[str, int]
    sheet: tuple[str, str, str, str]
    book: tuple[str, str]


def write_samples(
    sheet: Worksheet, formats: Mapping[str, Format], words: Sequence[str], columns: int
) -> None:
    """Write what `master_cut` looks for into the empty tab of a master: a cell of every format that is used.

    Raises
    ------
    KeyError : there is no such format.
    """
    for row, word in enumerate(words):
        sheet.write_string(row, 0, word, formats[word])
    sheet.merge_range(len(words), 0, len(words), columns - 1, "")
    sheet.print_area(0, 0, len(words), columns - 1)


def master_cut(parts: Mapping[str, bytes], words: Sequence[str]) -> PageMaster:
    """Return a master from its parts SHEET and BOOK.

    words : those that `write_samples` was given.

    Raises
    ------
    ValueError : these are not the parts of a master.
    """
    sheet = _CUT_SHEET.fullmatch(parts[SHEET].decode("utf-8"))
    book = _CUT_BOOK.fullmatch(parts[BOOK].decode("utf-8"))
    if sheet is None or book is None:
        raise ValueError("a master has merged cells and a printed area")
    begin, before, rows, after, end = sheet.groups()
    numbers = (int(number) for number in _SHAPE.findall(rows)[: len(words)])
    formats = dict(zip(words, numbers, strict=True))
    return PageMaster(formats, (begin, before, after, end), (book[1], book[2]))


class Cells:
    """The cells of one workbook, written by the same calls as those of the writing library.

    Rows and columns count from 0; there are at most 26 columns. A shape is a number from a master's formats.
    A cell that is written twice holds the last.
    """

    def __init__(self) -> None:
        self._rows: defaultdict[int, dict[int, str]] = defaultdict(dict)
        self._heights: dict[int, str] = {}
        self._merged: list[str] = []
        self._texts: dict[str, int] = {}

    def set_row(self, row: int, height: float) -> None:
        """Set the height of a row [points], to the nearest dot of the screen as the writing library does."""
        self._heights[row] = f' ht="{int(height * 4 / 3 + 0.5) * 0.75:.16g}" customHeight="1"'

    def write_blank(self, row: int, column: int, blank: None, shape: int) -> None:
        """Write an empty cell."""
        self._write(row, column, f's="{shape}"/>')

    def write_string(self, row: int, column: int, text: str, shape: int) -> None:
        """Write a text as a text, whatever it begins with."""
        number = self._texts.setdefault(text, len(self._texts))
        self._write(row, column, f's="{shape}" t="s"><v>{number}</v></c>')

    def write_number(self, row: int, column: int, number: float, shape: int) -> None:
        """Write a number.

        Raises
        ------
        ValueError : it is not finite, and no cell can hold it.
        """
        if not math.isfinite(number):
            raise ValueError(f"row {row + 1}: {number} is not a number that a cell can hold")
        self._write(row, column, f's="{shape}"><v>{number:.16G}</v></c>')

    def merge_row(self, row: int, last_column: int, shape: int) -> None:
        """Make the cells of a row one, up to a column; the first of them is written into."""
        for column in range(last_column + 1):
            self.write_blank(row, column, None, shape)
        self._merged.append(f'<mergeCell ref="A{row + 1}:{ascii_uppercase[last_column]}{row + 1}"/>')

    def parts(self, master: PageMaster, printed_rows: int) -> dict[str, bytes]:
        """Return the parts that take the place of the master's.

        printed_rows : rows from the first that are printed.
        """
        begin, before, after, end = master.sheet
        rows = "".join(
            f'<row r="{row + 1}"{self._heights.get(row, "")}>{_in_order(self._rows[row])}</row>'
            for row in sorted({*self._rows, *self._heights})
        )
        last_column = max((column for cells in self._rows.values() for column in cells), default=0)
        extent = f"A1:{ascii_uppercase[last_column]}{max(self._rows, default=0) + 1}"
        merged = f'<mergeCells count="{len(self._merged)}">{"".join(self._merged)}</mergeCells>'
        texts = "".join(map(_text_item, self._texts))
        return {
            SHEET: f"{begin}{extent}{before}{rows}{after}{merged if self._merged else ''}{end}".encode(),
            _TEXTS: f'{_TEXTS_BEGIN} uniqueCount="{len(self._texts)}">{texts}</sst>'.encode(),
            BOOK: f"{printed_rows}".join(master.book).encode(),
        }

    def _write(self, row: int, column: int, rest: str) -> None:
        self._rows[row][column] = f'<c r="{ascii_uppercase[column]}{row + 1}" {rest}'


def _in_order(cells: Mapping[int, str]) -> str:
    return "".join([cells[column] for column in sorted(cells)])


@lru_cache(maxsize=4096)
def _text_item(text: str) -> str:
    """A text as it stands among the texts of a workbook; the same sentences stand on the pages of a class."""
    escaped = _LOOKS_ESCAPED.sub("_x005F_", text)
    escaped = _NOT_IN_XML.sub(lambda match: f"_x{ord(match[0]):04X}_", escaped)
    space = "" if text == text.strip() else ' xml:space="preserve"'
    return f"<si><t{space}>{escape(escaped)}</t></si>"
