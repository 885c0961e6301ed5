"""How the tabs of the report are written: texts as texts, one page wide, quiet."""

import tomllib
from collections.abc import Mapping, Sequence
from textwrap import wrap

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.report.attempt_facts import without_surrogates
from sheetgen.report.page import Heading, Page, Value

__all__ = ["Formats", "formats_of", "new_sheet", "write", "write_page", "write_table"]

_POINTS_A_LINE = 13.5
_TALLEST = 409.0
"""The tallest row the file format knows [points]."""

_LONGEST_TEXT = 1000
"""Longer texts are cut in the report; the CSV files hold them whole."""

_INK = "#22312C"
_BAR = "#5A6B64"
_ROW_LINE = "#B9C2BE"
_ROW_PIXELS = 24

Formats = Mapping[str, Format]


def formats_of(workbook: Workbook, style_text: str) -> Formats:
    """Return the format words of a style, and of each `row of WORD` and `heading of WORD` for tables.

    In tables numbers keep to the right and texts stand off the line, so that neighbours never touch.
    """
    style = tomllib.loads(style_text)
    base = style.pop("base")
    tables = {word: {**base, **table} for word, table in style.items()}
    row = {"valign": "top", "bottom": 1, "bottom_color": _ROW_LINE}
    for word in ("wrap", "label", "text", "result_1", "result_2", "result_4"):
        side = {"align": "left", "indent": 1} if word in ("wrap", "label") else {"align": "right"}
        tables[f"row of {word}"] = {**tables[word], **row, **side, "font_size": 10}
        tables[f"heading of {word}"] = {**tables["heading"], **side}
    return {word: workbook.add_format(table) for word, table in tables.items()}


def write_page(workbook: Workbook, formats: Formats, page: Page) -> None:
    """Add a tab: title, sentence, table, and the chart where one is asked for."""
    sheet = new_sheet(workbook, formats, page.tab, [heading.width for heading in page.headings])
    write(sheet, 0, 0, page.title, formats["title"])
    # Not wrapped: in one narrow column a sentence would stand on ten lines; it runs over the empty cells.
    for row, sentence in enumerate(page.sentences, start=1):
        write(sheet, row, 0, sentence, formats["text"])
    heading_row = len(page.sentences) + 2
    last = write_table(sheet, formats, heading_row, page.headings, page.rows)
    if page.filtered and page.rows:
        sheet.autofilter(heading_row, 0, last, len(page.headings) - 1)
    sheet.freeze_panes(heading_row + 1, 1)
    sheet.repeat_rows(heading_row)
    if page.chart is not None:
        _add_chart(workbook, sheet, page, heading_row + 1, last)


def write_table(
    sheet: Worksheet,
    formats: Formats,
    heading_row: int,
    headings: Sequence[Heading],
    rows: Sequence[Sequence[Value]],
) -> int:
    """Write a table and return its last row."""
    texts = [heading.text for heading in headings]
    sheet.set_row(heading_row, _height(headings, texts, characters_per_width=0.95))
    for column, heading in enumerate(headings):
        write(sheet, heading_row, column, heading.text, formats[f"heading of {heading.format}"])
    for row, values in enumerate(rows, start=heading_row + 1):
        sheet.set_row(row, _height(headings, values, characters_per_width=1.15))
        for column, (heading, value) in enumerate(zip(headings, values, strict=True)):
            write(sheet, row, column, value, formats[f"row of {heading.format}"])
    return heading_row + len(rows)


def _height(headings: Sequence[Heading], values: Sequence[Value], characters_per_width: float) -> float:
    """Points that a row needs: some programs do not fit rows to wrapped text by themselves."""
    lines = 1
    for heading, value in zip(headings, values, strict=True):
        if isinstance(value, str):
            in_one_line = max(1, int(heading.width * characters_per_width) - 1)
            cut = _shown(value)
            lines = max(lines, sum(len(wrap(part, in_one_line)) or 1 for part in cut.split("\n")))
    return min(_POINTS_A_LINE * lines + 4, _TALLEST)


def _shown(text: str) -> str:
    clean = without_surrogates(text)
    return clean if len(clean) <= _LONGEST_TEXT else clean[: _LONGEST_TEXT - 1] + "…"


def write(sheet: Worksheet, row: int, column: int, value: Value, shape: Format) -> None:
    """Write a text as a text, whatever it begins with, and a number as a number."""
    if value is None or value == "":
        sheet.write_blank(row, column, None, shape)
    elif isinstance(value, str):
        sheet.write_string(row, column, _shown(value), shape)
    else:
        sheet.write_number(row, column, value, shape)


def new_sheet(workbook: Workbook, formats: Formats, tab: str, widths: Sequence[float]) -> Worksheet:
    """Add an empty tab that prints one page wide with page numbers."""
    sheet = workbook.add_worksheet(tab)
    for column, width in enumerate(widths):
        sheet.set_column(column, column, width, formats["text"])
    sheet.hide_gridlines(2)
    sheet.set_landscape()
    sheet.set_paper(9)
    # 190 x 254 mm is what A4 and Letter share.
    sheet.set_margins(left=0.6, right=0.6, top=0.6, bottom=0.8)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer("&CPage &P of &N")
    # Student ids may be all digits: they stay texts, without a mark in the corner of each cell.
    sheet.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    return sheet


def _add_chart(workbook: Workbook, sheet: Worksheet, page: Page, first: int, last: int) -> None:
    """A bar a row, below the table: a chart beside it would shrink the printed page."""
    if page.chart is None:
        return
    words, numbers = page.chart
    chart = workbook.add_chart({"type": "bar"})
    chart.add_series(
        {
            "name": page.headings[numbers].text,
            "categories": [page.tab, first, words, last, words],
            "values": [page.tab, first, numbers, last, numbers],
            "fill": {"color": _BAR},
            "data_labels": {"value": True, "font": {"color": _INK, "name": "Arial", "size": 10}},
            "gap": 60,
        }
    )
    chart.set_title({"name": page.title, "name_font": {"color": _INK, "name": "Arial", "size": 12}})
    chart.set_legend({"none": True})
    font = {"color": _INK, "name": "Arial", "size": 10}
    chart.set_y_axis({"reverse": True, "num_font": font})
    chart.set_x_axis({"min": 0, "visible": False, "major_gridlines": {"visible": False}})
    pixels = sum(int(heading.width * 7 + 5) for heading in page.headings)
    chart.set_size({"width": pixels, "height": 90 + _ROW_PIXELS * len(page.rows)})
    sheet.insert_chart(last + 2, 0, chart, {"description": f"Bar chart of the table above: {page.title}"})
