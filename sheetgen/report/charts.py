"""Native charts of the report: they follow the cells that they show."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from xlsxwriter.utility import quote_sheetname, xl_range_abs
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.report.page import Chart, Heading, Texts, Value
from sheetgen.texts.templates import read_template, style_tables

_LINES = (("line_1", "dash"), ("line_2", "solid"), ("line_1", "round_dot"))
"""Colour and dashes."""
_SCATTERS_A_ROW = 4


@lru_cache(maxsize=1)
def _colours() -> Mapping[str, str]:
    return style_tables(read_template("style.toml"))[1]


_GAP_PIXELS = 8
"""Between neighbours."""

ROW_PIXELS = 20
"""Height of a row in which nothing is written."""


@dataclass(frozen=True, slots=True)
class Area:
    """Where a table stands.

    heading_row : counted from 0. pixels : width of the tab's tables. font_size : of what is around a chart.
    """

    tab: str
    heading_row: int
    headings: Sequence[Heading]
    rows: Sequence[Sequence[Value]]
    pixels: int
    font_size: int = 10


@dataclass(frozen=True, slots=True)
class Place:
    """Of a chart. row : counted from the first row of all charts. across : which of those side by side."""

    row: int
    rows: int
    across: int


def places(charts: Sequence[Chart], table_rows: int) -> list[Place]:
    """Return where the charts of a table stand below each other, the scatters side by side."""
    found, row, across = [], 0, 0
    for chart in charts:
        first, last = chart.rows or (0, table_rows - 1)
        rows = {"bar": 5 + (last - first + 1) * 5 // 4, "column": 16, "scatter": 13}[chart.kind]
        found.append(Place(row, rows, across))
        across = (across + 1) % _SCATTERS_A_ROW if chart.kind == "scatter" else 0
        row += rows if across == 0 else 0
    return found


def rows_taken(charts: Sequence[Chart], rows: int) -> int:
    """Return how many rows the charts of a table take up, with a gap below."""
    return max((place.row + place.rows for place in places(charts, rows)), default=-1) + 1


def add_charts(
    workbook: Workbook, sheet: Worksheet, charts: Sequence[Chart], top: int, area: Area, texts: Texts
) -> None:
    """Put the charts of a table below each other from a row on, the scatters side by side.

    Notes
    -----
    Never beside the table: that would shrink the printed page. On whole rows, and scatters on whole columns,
    for programs differ in how wide they show one.
    """
    for chart, place in zip(charts, places(charts, len(area.rows)), strict=True):
        drawn = _drawn(workbook, chart, area)
        _dress(drawn, chart, area)
        width = area.pixels // (_SCATTERS_A_ROW if chart.kind == "scatter" else 1)
        drawn.set_size({"width": width - _GAP_PIXELS, "height": place.rows * ROW_PIXELS - _GAP_PIXELS})
        column = place.across * (len(area.headings) // _SCATTERS_A_ROW)
        description = texts["report_common.chart"].format(title=chart.title)
        # Off the line between two rows: a page that ends there would show the edge of the chart on the next.
        shown = {"object_position": 2, "description": description, "y_offset": _GAP_PIXELS // 2}
        sheet.insert_chart(top + place.row, column, drawn, shown)


def _drawn(workbook: Workbook, chart: Chart, area: Area) -> Any:
    """The chart with its values and lines, and nothing around them."""
    first, last = (area.heading_row + 1 + row for row in chart.rows or (0, len(area.rows) - 1))

    def series(column: int, **look: Any) -> dict[str, Any]:
        return {
            "name": area.headings[column].text,
            "categories": [area.tab, first, chart.words, last, chart.words],
            "values": [area.tab, first, column, last, column],
            **look,
        }

    colours = _colours()
    look: dict[str, Any] = {"fill": {"color": colours["bar"]}, "gap": 60}
    if chart.kind == "scatter":
        dot = {"color": colours["bar"]}
        look = {"marker": {"type": "circle", "size": 4, "fill": dot, "border": dot}}
    elif chart.reach is not None:
        cells = f"={quote_sheetname(area.tab)}!{xl_range_abs(first, chart.reach, last, chart.reach)}"
        ends = {"type": "custom", "plus_values": cells, "minus_values": cells}
        look["y_error_bars"] = {**ends, "line": {"color": colours["ink"], "width": 1.5}}
    else:
        digits = {"num_format": "0.0"} if area.headings[chart.numbers].format == "result_1" else {}
        font = {"color": colours["ink"], "name": "Arial", "size": 10}
        look["data_labels"] = {"value": True, "font": font, **digits}
    drawn = workbook.add_chart({"type": chart.kind})
    drawn.add_series(series(chart.numbers, **look))
    apart = bool(chart.lines) and chart.kind != "scatter"
    lines = workbook.add_chart({"type": "line"}) if apart else drawn
    for column, (color, dash) in zip(chart.lines, _LINES, strict=False):
        style = {"color": colours[color], "width": 1.75 if apart else 1.5, "dash_type": dash}
        lines.add_series(series(column, line=style, marker={"type": "none"}))
    if apart:
        drawn.combine(lines)
    return drawn


def _dress(drawn: Any, chart: Chart, area: Area) -> None:
    """Give a chart its title, legend and axes."""
    font = {"color": _colours()["ink"], "name": "Arial", "size": area.font_size}
    named = {"name_font": {**font, "bold": False}, "num_font": font}
    drawn.set_title(
        {"name": chart.title, "name_font": {**font, "size": area.font_size + 2}, "overlay": False}
    )
    by_name = chart.lines and chart.kind != "scatter"
    drawn.set_legend({"position": "bottom", "font": font} if by_name else {"none": True})
    numbers, bare = area.headings[chart.numbers], {"major_gridlines": {"visible": False}}
    x_axis: dict[str, Any] = {"num_font": font, "label_position": "low"}
    y_axis: dict[str, Any] = {
        "name": numbers.text,
        **named,
        "major_gridlines": {"visible": True, "line": {"color": _colours()["grid"], "width": 0.5}},
        "num_format": "0" if numbers.format == "text" else "0.0",
    }
    if chart.kind == "bar":
        x_axis, y_axis = {"min": 0, "visible": False, **bare}, {"reverse": True, "num_font": font}
    elif chart.kind == "scatter":
        x_axis |= {"name": area.headings[chart.words].text, **named, "num_format": "0", **bare}
    else:
        y_axis |= {"min": 0} if chart.reach is None else _reached(chart.numbers, chart.reach, area)
    drawn.set_x_axis(x_axis)
    drawn.set_y_axis(y_axis)


def _reached(numbers: int, reach: int, area: Area) -> dict[str, float]:
    """The ends of an axis that holds every interval: programs make room for the values alone."""
    ends = []
    for row in area.rows:
        middle, half = row[numbers], row[reach]
        if isinstance(middle, float) and isinstance(half, float):
            ends += [middle - half, middle + half]
    return {"min": math.floor(2 * min(ends)) / 2, "max": math.ceil(2 * max(ends)) / 2} if ends else {}
