"""How the tabs of the report are written: texts as texts, one page wide, quiet."""

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from itertools import zip_longest
from textwrap import wrap

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.report.charts import ROW_PIXELS, Area, Place, add_charts, places, rows_taken
from sheetgen.report.page import Heading, Page, Section, Texts, Value, writable_text
from sheetgen.texts.templates import read_template, style_tables
from sheetgen.workbook.packages import with_language

POINTS_A_LINE = 13.5
"""Height of a line of text in a cell."""
_TALLEST = 409.0
"""The tallest row the file format knows [points]."""

_NARROWEST = 100.0
"""Characters across a tab; a narrower one would be printed in giant letters."""

_PAGE_PIXELS = 630
_PAGE_SHARE = 0.65
"""Height of a printed page: of a tab that is not made smaller [px], and of a wide one, by its width."""

_LARGE = 1.6
"""How much larger a tab for the wall is written."""

_LONGEST_TEXT = 1000
"""Longer texts are cut in the report; the CSV files hold them whole."""

Formats = Mapping[str, Format]


def workbook_bytes(title: str, language: str, fill: Callable[[Workbook, Formats], None]) -> bytes:
    """Return a workbook that a function fills, the same bytes for the same inputs.

    language : of the texts, a tag such as `en`; it stands in the properties of the file.
    """
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    # A real date would make each run's bytes differ.
    workbook.set_properties({"title": writable_text(title), "created": datetime(2000, 1, 1)})
    workbook.set_custom_property("language", language, "text")
    fill(workbook, formats_of(workbook))
    workbook.close()
    return with_language(stream.getvalue(), language)


def formats_of(workbook: Workbook) -> Formats:
    """Return the format words of the style, and of each `row of WORD` and `heading of WORD` for tables.

    In tables numbers keep to the right and texts stand off the line, so that neighbours never touch.
    """
    return {word: workbook.add_format(table) for word, table in _style().items()}


@lru_cache(maxsize=1)
def _style() -> dict[str, dict[str, object]]:
    tables, colours = style_tables(read_template("style.toml"))
    row = {"valign": "top", "bottom": 1, "bottom_color": colours["row_line"], "font_size": 10}
    large = {"font_size": 16}
    tables["wall"] = tables["text"] | large
    for word in ("wrap", "label", "text", "result_1", "result_2", "result_4"):
        side = {"align": "left", "indent": 1} if word in ("wrap", "label") else {"align": "right"}
        tables[f"row of {word}"] = {**tables[word], **row, **side}
        tables[f"heading of {word}"] = {**tables["heading"], **side}
        for part in (f"row of {word}", f"heading of {word}"):
            tables[f"wall {part}"] = tables[part] | large
    return tables


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab that is being written. widths : of its columns [characters]. wall : it is written large."""

    sheet: Worksheet
    formats: Formats
    widths: Sequence[float]
    wall: bool = False

    def write(self, row: int, column: int, value: Value, word: str) -> None:
        """Write a text as a text, whatever it begins with, and a number as a number; word : its format."""
        if value is None or value == "":
            self.sheet.write_blank(row, column, None, self.formats[word])
        elif isinstance(value, str):
            self.sheet.write_string(row, column, _shown(value), self.formats[word])
        else:
            self.sheet.write_number(row, column, value, self.formats[word])

    def write_table(self, top: int, headings: Sequence[Heading], rows: Sequence[Sequence[Value]]) -> int:
        """Write a table and return its last row."""
        large, scale = ("wall ", _LARGE) if self.wall else ("", 1.0)
        texts = [heading.text for heading in headings]
        self.sheet.set_row(top, _height(self.widths, texts, 0.95 / scale) * scale)
        for column, heading in enumerate(headings):
            self.write(top, column, heading.text, f"{large}heading of {heading.format}")
        for row, values in enumerate(rows, start=top + 1):
            self.sheet.set_row(row, min(_height(self.widths, values, 1.15 / scale) * scale, _TALLEST))
            for column, (heading, value) in enumerate(zip(headings, values, strict=True)):
                self.write(row, column, value, f"{large}row of {heading.format}")
        return top + len(rows)


def new_tab(workbook: Workbook, formats: Formats, name: str, widths: Sequence[float], page_words: str) -> Tab:
    """Add an empty tab that prints one page wide.

    page_words : what stands below each page, with places for `page` and `pages`.
    """
    sheet = workbook.add_worksheet(name)
    for column, width in enumerate(widths):
        sheet.set_column(column, column, width, formats["text"])
    sheet.hide_gridlines(2)
    sheet.set_landscape()
    sheet.set_paper(9)
    # 190 x 254 mm is what A4 and Letter share.
    sheet.set_margins(left=0.6, right=0.6, top=0.6, bottom=0.8)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer(f"&C{page_words.format(page='&P', pages='&N')}")
    # Student ids may be all digits: they stay texts, without a mark in the corner of each cell.
    sheet.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    return Tab(sheet, formats, widths)


def write_page(workbook: Workbook, formats: Formats, page: Page, texts: Texts) -> None:
    """Add a tab: title, sentences, tables, and the charts where any are asked for."""
    parts: tuple[Page | Section, ...] = (page, *page.more)
    widths = _widths(parts)
    pixels = sum(int(width * 7 + 5) for width in widths)
    page_rows = max(_PAGE_PIXELS, _PAGE_SHARE * pixels) / ROW_PIXELS
    tab = new_tab(workbook, formats, page.tab, widths, texts["report_common.page"])
    if page.wall:
        tab = replace(tab, wall=True)
        tab.sheet.fit_to_pages(1, 1)
    tab.sheet.set_default_row(ROW_PIXELS * 0.75)
    tab.write(0, 0, page.title, "title")
    row, breaks, used = 1, list[int](), 1.0
    for number, part in enumerate(parts):
        if number:
            row, used = row + 2, used + 2
            if parts[number - 1].charts:
                breaks.append(row - 1)
                used = 1.0
            tab.write(row - 1, 0, part.title, "label")
        row = _sentences(tab, row, part.sentences)
        of_charts = rows_taken(part.charts, len(part.rows))
        heading_row = row + 1 + (of_charts if page.above else 0)
        last = tab.write_table(heading_row, part.headings, part.rows) if part.headings else row
        if not number:
            _hold(tab.sheet, heading_row, page)
        area = Area(page.tab, heading_row, part.headings, part.rows, pixels, 14 if page.wall else 10)
        top = row + 1 if page.above else last + 2
        add_charts(workbook, tab.sheet, part.charts, top, area, texts)
        used = (used + _rows_tall(part, widths)) % page_rows
        row = last + 1
        if part.charts and not page.above:
            before, used = _breaks(places(part.charts, len(part.rows)), used, page_rows)
            breaks += [top + first for first in before]
            row += 1 + of_charts
    tab.sheet.print_area(0, 0, heading_row - 1 if page.above else row, len(widths) - 1)
    if breaks and not page.wall:
        # A program that keeps to the page width alone may pass them over; then nothing is lost.
        tab.sheet.set_h_pagebreaks(breaks)


def _rows_tall(table: Page | Section, widths: Sequence[float]) -> float:
    """How many usual rows the sentences and the table of a section are as tall as, with the gaps."""
    points = sum(_height(widths, values, 1.15) for values in table.rows)
    return len(table.sentences) + 4 + points / (ROW_PIXELS * 0.75)


def _breaks(charts: Sequence[Place], used: float, page_rows: float) -> tuple[list[int], float]:
    """Rows of charts before which a page ends, so that none is cut, and what is used of the last page."""
    breaks, start = [], -used
    for chart in charts:
        if chart.row + chart.rows - start > page_rows and chart.row > start:
            breaks.append(chart.row)
            start = float(chart.row)
    return breaks, max(chart.row + chart.rows for chart in charts) - start


def _hold(sheet: Worksheet, heading_row: int, page: Page) -> None:
    """Keep the heading row in sight and on every printed page, where it is the only one of the tab."""
    if page.filtered and page.rows:
        sheet.autofilter(heading_row, 0, heading_row + len(page.rows), len(page.headings) - 1)
    if page.more or not page.headings:
        sheet.freeze_panes(1, 0)
    else:
        sheet.freeze_panes(heading_row + 1, 1)
        sheet.repeat_rows(heading_row)


def _widths(tables: Sequence[Page | Section]) -> list[float]:
    """Each column as wide as the widest heading in it; tables below each other share their columns."""
    by_table = [[heading.width for heading in table.headings] for table in tables]
    widths = [max(column) for column in zip_longest(*by_table, fillvalue=0.0)]
    # Sentences and charts need room where a table is narrow.
    missing = _NARROWEST - sum(widths)
    return [*widths, missing] if missing > 0 else widths


def _sentences(tab: Tab, row: int, sentences: Sequence[str]) -> int:
    """Write sentences from a row on and return the row after them.

    Not wrapped in their cell: in one narrow column a sentence would stand on ten lines; it runs over the
    empty cells, and is broken where the tables end.
    """
    across = max(int(sum(tab.widths) * (0.72 if tab.wall else 0.95)), 30)
    for line in (line for sentence in sentences for line in wrap(sentence, across) or [""]):
        if tab.wall:
            tab.sheet.set_row(row, 26)
        tab.write(row, 0, line, "wall" if tab.wall else "text")
        row += 1
    return row


def _height(widths: Sequence[float], values: Sequence[Value], characters_per_width: float) -> float:
    """Points that a row needs: some programs do not fit rows to wrapped text by themselves."""
    lines = 1
    for width, value in zip(widths, values, strict=False):
        if isinstance(value, str):
            in_one_line = max(1, int(width * characters_per_width) - 1)
            lines = max(lines, _lines(value, in_one_line))
    return min(POINTS_A_LINE * lines + 4, _TALLEST)


@lru_cache(maxsize=4096)
def _lines(text: str, in_one_line: int) -> int:
    """Lines that a text takes; the same few sentences stand on the pages of a whole class."""
    return sum(len(wrap(part, in_one_line)) or 1 for part in _shown(text).split("\n"))


@lru_cache(maxsize=4096)
def _shown(text: str) -> str:
    clean = writable_text(text)
    return clean if len(clean) <= _LONGEST_TEXT else clean[: _LONGEST_TEXT - 1] + "…"
