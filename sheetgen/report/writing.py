"""How the tabs of the report are written: texts as texts, one page wide, quiet; with native charts, which
follow the cells that they show, in the colours of the sheets."""

import io
import math
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from itertools import zip_longest
from textwrap import wrap

import xlsxwriter
from msgspec import Struct
from msgspec.structs import replace
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.report.page import Chart, Heading, Link, Page, Section, Value, writable_text
from sheetgen.texts.languages import Texts
from sheetgen.texts.templates import read_template, style_tables
from sheetgen.workbook import layout
from sheetgen.workbook.cells import column_pixels, height_for, lines_needed, text_pixels
from sheetgen.workbook.charts import place_chart
from sheetgen.workbook.layout import Series
from sheetgen.workbook.packages import OWNER_ONLY, packed, parts_of, with_language

_NARROWEST = 84.0
"""Characters across a tab; a narrower one would be printed in giant letters."""

_UPRIGHT, _LYING = (690.0, 950.0), (950.0, 690.0)
"""Width and height of what A4 and Letter both hold between the margins [px]."""
_LEAST_SCALE = 0.9
"""Upright, a tab is made no smaller than this, so that tables keep 9 points; a wider one lies on its side."""

_NARROWER = 1.15
"""How many letters of the report's type stand in the place of one of the type that widths are measured in."""

_POINTS = 10
_LARGE = 16
"""Size of the type in tables, and on a tab for the wall [points]."""

_LONGEST_TEXT = 1000
"""Longer texts are cut in the report; the CSV files hold them whole."""
_CHART_ROWS = 13
"""Rows of cells that the charts of a table take up, side by side."""
_ROW_PIXELS = 21
"""Height of a row in which nothing is written."""
_GAP_PIXELS = 8
"""Between neighbours."""

Formats = Mapping[str, Format]


def workbook_bytes(title: str, language: str, fill: Callable[[Workbook, Formats], None]) -> bytes:
    """Return a workbook that a function fills, the same bytes for the same inputs. language : of the texts, a
    tag such as `en`; it stands in the properties of the file."""
    stream = io.BytesIO()
    # Widths of columns go by this type: in a wider one a page would be made smaller to fit.
    typeface = {"font_name": "Arial", "font_size": _POINTS, "font_scheme": False}
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True, "default_format_properties": typeface})
    # A real date would make each run's bytes differ.
    workbook.set_properties({"title": writable_text(title), "created": datetime(2000, 1, 1)})
    workbook.set_custom_property("language", language, "text")
    fill(workbook, formats_of(workbook))
    workbook.close()
    return packed(with_language(parts_of(stream.getvalue()), language), OWNER_ONLY)


def formats_of(workbook: Workbook) -> Formats:
    """Return the format words of the style, and of each `row of WORD` and `heading of WORD` for tables. In
    tables numbers keep to the right and texts stand off the line, so that neighbours never touch."""
    return _Formats(workbook)


class _Formats(dict[str, Format]):
    """Word to format, made when it is first asked for: a page uses a tenth of them."""

    def __init__(self, workbook: Workbook) -> None:
        self.workbook = workbook

    def __missing__(self, word: str) -> Format:
        return self.setdefault(word, self.workbook.add_format(_style()[0][word]))


@lru_cache(maxsize=1)
def _style() -> tuple[dict[str, dict[str, object]], Mapping[str, str]]:
    """The format words of the style with those of tables, and the colours of charts."""
    shared, colours = style_tables(read_template("style.toml"))
    tables: dict[str, dict[str, object]] = dict(shared)
    row = {"valign": "vcenter", "bottom": 1, "bottom_color": colours["row_line"], "font_size": _POINTS}
    large = {"font_size": _LARGE}
    tables["wall"] = tables["text"] | large
    tables["sentence"] = tables["text"] | {"font_size": _POINTS + 1, "indent": 0}
    tables["part_title"] = tables["part"] | {"indent": 0}
    link = {"underline": 1, "font_color": tables["part"]["font_color"]}
    for word in ("wrap", "label", "text", "result_1", "result_2", "result_4"):
        side = {"align": "left", "indent": 1} if word in ("wrap", "label") else {"align": "right"}
        tables[f"row of {word}"] = {**tables[word], **row, **side}
        tables[f"heading of {word}"] = {**tables["heading"], **side, "font_size": _POINTS}
        for part in (f"row of {word}", f"heading of {word}"):
            tables[f"wall {part}"] = tables[part] | large
    tables["row of link"] = tables["row of wrap"] | link
    return tables, colours


class Tab(Struct, frozen=True):
    """A tab that is being written. widths : of its columns [characters]. wall : it is written large."""

    sheet: Worksheet
    formats: Formats
    widths: Sequence[float]
    wall: bool = False

    def write(self, row: int, column: int, value: Value, word: str) -> None:
        """Write a text as a text, whatever it begins with, and a number as a number; word : its format."""
        if value is None or value == "":
            self.sheet.write_blank(row, column, None, self.formats[word])
        elif isinstance(value, Link):
            self.sheet.write_url(row, column, value.target, self.formats["row of link"], _shown(value.text))
        elif isinstance(value, str):
            self.sheet.write_string(row, column, _shown(value), self.formats[word])
        else:
            self.sheet.write_number(row, column, value, self.formats[word])

    @property
    def points(self) -> int:
        """The size of the type in tables."""
        return _LARGE if self.wall else _POINTS

    def lines(self, text: str) -> list[str]:
        """Return a sentence broken where the tables end."""
        room = sum(map(column_pixels, self.widths)) / max(text_pixels(text, points=self.points + 1), 1)
        return wrap(text, max(int(_NARROWER * room * len(text)), 30)) or [""]

    def height(self, headings: Sequence[Heading], values: Sequence[Value]) -> float:
        """Return the points that a row needs: some programs fit no row to wrapped text by themselves."""
        lines = [1]
        for width, heading, value in zip(self.widths, headings, values, strict=False):
            if text := value.text if isinstance(value, Link) else value if isinstance(value, str) else "":
                bold = heading.text == text or heading.format == "label"
                lines.append(_lines(_shown(text), width * _NARROWER, bold, self.points))
        return height_for(max(lines), self.points)

    def write_table(self, top: int, headings: Sequence[Heading], rows: Sequence[Sequence[Value]]) -> int:
        """Write a table and return its last row."""
        large = "wall " if self.wall else ""
        texts = [heading.text for heading in headings]
        self.sheet.set_row(top, self.height(headings, texts))
        for column, heading in enumerate(headings):
            self.write(top, column, heading.text, f"{large}heading of {heading.format}")
        for row, values in enumerate(rows, start=top + 1):
            self.sheet.set_row(row, self.height(headings, values))
            for column, (heading, value) in enumerate(zip(headings, values, strict=True)):
                self.write(row, column, value, f"{large}row of {heading.format}")
        return top + len(rows)


def new_tab(workbook: Workbook, formats: Formats, name: str, widths: Sequence[float], page_words: str) -> Tab:
    """Add an empty tab that prints one page wide. page_words : below each page, of `page` and `pages`."""
    sheet = workbook.add_worksheet(name)
    for column, width in enumerate(widths):
        sheet.set_column(column, column, width, formats["text"])
    sheet.hide_gridlines(2)
    sheet.set_landscape()
    sheet.set_paper(9)
    # 190 x 254 mm is what A4 and Letter share.
    sheet.set_margins(left=0.5, right=0.5, top=0.4, bottom=0.6)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer(f"&C{page_words.format(page='&P', pages='&N')}")
    # Student ids may be all digits: they stay texts, without a mark in the corner of each cell.
    sheet.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    return Tab(sheet, formats, widths)


def write_page(workbook: Workbook, formats: Formats, page: Page, texts: Texts) -> None:
    """Add a tab: title, sentences, tables, and the charts where any are asked for."""
    parts: tuple[Page | Section, ...] = (page, *page.more)
    widths = _widths(parts)
    pixels = sum(column_pixels(width) for width in widths)
    tab = new_tab(workbook, formats, page.tab, widths, texts["report_common.page"])
    tab = replace(tab, wall=page.wall)
    upright = pixels * _LEAST_SCALE <= _UPRIGHT[0] and not page.wall
    if upright:
        tab.sheet.set_portrait()
    wide, tall = _UPRIGHT if upright else _LYING
    room = tall / min(1.0, wide / pixels)
    tab.sheet.set_default_row(_ROW_PIXELS * 0.75)
    tab.write(0, 0, page.title, "title")
    row, used, breaks = 1, 0.0, list[int]()
    for number, part in enumerate(parts):
        needs = _pixels_tall(tab, part)
        if number:
            row += 1
            # A table and its chart stand together.
            if used + needs > room and needs <= room:
                breaks.append(row)
                used = 0.0
            tab.write(row, 0, part.title, "part_title")
            row += 1
        used = (used + needs) % room
        row = _sentences(tab, row, part.sentences)
        if part.headings:
            heading_row = row
            row = tab.write_table(row, part.headings, part.rows) + 1
            if not number:
                _hold(tab.sheet, heading_row, page)
            area = Area(page.tab, heading_row, part.headings, part.rows, pixels, 14 if page.wall else 10)
            add_charts(workbook, tab.sheet, part.charts, row, area, texts)
            row += _CHART_ROWS if part.charts else 0
    if not page.printed:
        # An empty cell: a program that prints the whole workbook passes the tab over.
        tab.sheet.print_area(0, len(widths) + 1, 0, len(widths) + 1)
        return
    tab.sheet.print_area(0, 0, row - 1 - page.unprinted, len(widths) - 1)
    if page.single or page.wall:
        tab.sheet.fit_to_pages(1, 1)
    elif breaks:
        # A program that keeps to the page width alone may pass them over; then nothing is lost.
        tab.sheet.set_h_pagebreaks(breaks)


def _pixels_tall(tab: Tab, part: Page | Section) -> float:
    """How tall the sentences, the table and the charts of a section are, with the gap above."""
    of_table = (tuple(heading.text for heading in part.headings), *part.rows) if part.headings else ()
    points = sum(tab.height(part.headings, values) for values in of_table)
    rows = 2 + sum(len(tab.lines(one)) for one in part.sentences) + (_CHART_ROWS if part.charts else 0)
    return rows * _ROW_PIXELS + points / 0.75


def _hold(sheet: Worksheet, heading_row: int, page: Page) -> None:
    """Keep the heading row in sight and on every printed page, where it is the only one of the tab."""
    if page.filtered and page.rows:
        sheet.autofilter(heading_row, 0, heading_row + len(page.rows), len(page.headings) - 1)
    if page.more:
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
    """Write sentences from a row on and return the row after them. Not wrapped in their cell, where
    one would stand on ten lines: it runs over the empty cells, and is broken where the tables end."""
    for line in (line for sentence in sentences for line in tab.lines(sentence)):
        if tab.wall:
            tab.sheet.set_row(row, 26)
        tab.write(row, 0, line, "wall" if tab.wall else "sentence")
        row += 1
    return row


@lru_cache(maxsize=4096)
def _lines(text: str, width: float, bold: bool, points: int) -> int:
    """Lines that a text takes; the same few sentences stand on the pages of a whole class."""
    return sum(lines_needed(piece, width, bold, 1, points) for piece in text.split("\n"))


@lru_cache(maxsize=4096)
def _shown(text: str) -> str:
    clean = writable_text(text)
    return clean if len(clean) <= _LONGEST_TEXT else clean[: _LONGEST_TEXT - 1] + "…"


class Area(Struct, frozen=True):
    """Where a table stands. heading_row : counted from 0. pixels : of the tables. font_size : of a chart."""

    tab: str
    heading_row: int
    headings: Sequence[Heading]
    rows: Sequence[Sequence[Value]]
    pixels: int
    font_size: int = 10


def add_charts(
    workbook: Workbook, sheet: Worksheet, charts: Sequence[Chart], top: int, area: Area, texts: Texts
) -> None:
    """Put the charts of a table side by side from a row on."""
    width = area.pixels // max(len(charts), 1)
    for place, chart in enumerate(charts):
        first, last = (area.heading_row + 1 + row for row in chart.rows or (0, len(area.rows) - 1))
        shape = area.headings[chart.numbers].format
        number = "" if chart.reach else "0.0" if shape == "result_1" else "General"
        bars = Series(area.headings[chart.numbers].text, chart.numbers, "plain", number, chart.reach)
        lines = zip(chart.lines, ("dashed", "dotted"), strict=False)
        native = layout.Chart(
            row=top,
            column=0,
            width=width - _GAP_PIXELS,
            height=_CHART_ROWS * _ROW_PIXELS - _GAP_PIXELS,
            title=chart.title,
            alternative_text=texts["report_common.chart"].format(title=chart.title),
            categories=(first, last, chart.words),
            series=(bars, *(Series(area.headings[column].text, column, look) for column, look in lines)),
            value_format="0" if shape == "text" else "0.0",
            ends=_reached(chart, area),
            points=area.font_size,
            x_offset=place * width,
            # Off the line between two rows: a page that ends there would show the edge on the next.
            y_offset=_GAP_PIXELS // 2,
        )
        place_chart(workbook, sheet, area.tab, native, _style()[1])


def _reached(chart: Chart, area: Area) -> tuple[float, float | None]:
    """The ends of an axis that holds every interval: programs make room for the values alone."""
    ends = []
    for row in area.rows if chart.reach else ():
        value, (below, above) = row[chart.numbers], (row[column] for column in chart.reach or ())
        if isinstance(value, float) and isinstance(below, float) and isinstance(above, float):
            ends += [value - below, value + above]
    if not ends:
        return 0, None
    return min(math.floor(2 * min(ends)) / 2, 0), math.ceil(2 * max(ends)) / 2
