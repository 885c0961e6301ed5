"""Native charts of the report: they follow the cells that they show, in the colours of the sheets."""

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

CHART_ROWS = 13
"""Rows of cells that the charts of a table take up, side by side."""
ROW_PIXELS = 21
"""Height of a row in which nothing is written."""
_GAP_PIXELS = 8
"""Between neighbours."""
_DASHES = ("dash", "round_dot")


@lru_cache(maxsize=1)
def _colours() -> Mapping[str, str]:
    return style_tables(read_template("style.toml"))[1]


@dataclass(frozen=True, slots=True)
class Area:
    """Where a table stands. heading_row : counted from 0. pixels : width of the tab's tables. font_size : of
    what is around a chart."""

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
    for place, chart in enumerate(charts):
        drawn = _drawn(workbook, chart, area)
        _dress(drawn, chart, area)
        width = area.pixels // len(charts)
        drawn.set_size({"width": width - _GAP_PIXELS, "height": CHART_ROWS * ROW_PIXELS - _GAP_PIXELS})
        description = texts["report_common.chart"].format(title=chart.title)
        # Off the line between two rows: a page that ends there would show the edge of the chart on the next.
        shown = {"object_position": 2, "description": description, "y_offset": _GAP_PIXELS // 2}
        sheet.insert_chart(top, 0, drawn, {**shown, "x_offset": place * width})


def _drawn(workbook: Workbook, chart: Chart, area: Area) -> Any:
    """The chart with its values, intervals and lines, and nothing around them."""
    first, last = (area.heading_row + 1 + row for row in chart.rows or (0, len(area.rows) - 1))

    def series(column: int, **look: Any) -> dict[str, Any]:
        name, values = area.headings[column].text, [area.tab, first, column, last, column]
        categories = [area.tab, first, chart.words, last, chart.words]
        return {"name": name, "categories": categories, "values": values, **look}

    ink = _colours()["ink"]
    look: dict[str, Any] = {"fill": {"color": _colours()["line_2"]}, "gap": 70}
    if chart.reach:
        tab = quote_sheetname(area.tab)
        below, above = (f"={tab}!{xl_range_abs(first, column, last, column)}" for column in chart.reach)
        bars = {"type": "custom", "plus_values": above, "minus_values": below}
        look["y_error_bars"] = {**bars, "line": {"color": ink, "width": 1.5}}
    else:
        digits = {"num_format": "0.0"} if area.headings[chart.numbers].format == "result_1" else {}
        look["data_labels"] = {"value": True, "font": {"color": ink, "name": "Arial", "size": 10}, **digits}
    drawn = workbook.add_chart({"type": "column"})
    drawn.add_series(series(chart.numbers, **look))
    if chart.lines:
        lines = workbook.add_chart({"type": "line"})
        colours = (_colours()["line_1"], ink)
        for column, color, dash in zip(chart.lines, colours, _DASHES, strict=False):
            line = {"color": color, "width": 1.75, "dash_type": dash}
            lines.add_series(series(column, line=line, marker={"type": "none"}))
        drawn.combine(lines)
    return drawn


def _dress(drawn: Any, chart: Chart, area: Area) -> None:
    """Give a chart its title, legend and axes."""
    font = {"color": _colours()["ink"], "name": "Arial", "size": area.font_size}
    title = {"name": chart.title, "name_font": {**font, "size": area.font_size + 1}, "overlay": False}
    drawn.set_title(title)
    drawn.set_legend({"position": "bottom", "font": font} if chart.lines else {"none": True})
    drawn.set_chartarea({"border": {"none": True}})
    shape = "0" if area.headings[chart.numbers].format == "text" else "0.0"
    grid = {"visible": True, "line": {"color": _colours()["grid"], "width": 0.5}}
    drawn.set_x_axis({"num_font": font, "label_position": "low"})
    axis = {"num_font": font, "line": {"none": True}, "major_gridlines": grid, "num_format": shape}
    drawn.set_y_axis({**axis, **_reached(chart, area)})


def _reached(chart: Chart, area: Area) -> dict[str, float]:
    """The ends of an axis that holds every interval: programs make room for the values alone."""
    ends = []
    for row in area.rows if chart.reach else ():
        value, (below, above) = row[chart.numbers], (row[column] for column in chart.reach or ())
        if isinstance(value, float) and isinstance(below, float) and isinstance(above, float):
            ends += [value - below, value + above]
    if not ends:
        return {"min": 0}
    return {"min": min(math.floor(2 * min(ends)) / 2, 0), "max": math.ceil(2 * max(ends)) / 2}
