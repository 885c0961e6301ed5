"""Native charts of the report: they follow the cells that they show."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from xlsxwriter.utility import quote_sheetname, xl_range_abs
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.report.page import Chart, Heading, Texts, Value

_INK = "#22312C"
_BAR = "#5A6B64"
_LINES = ("#8A3B12", "#1F5FA8", "#8A3B12")
_DASHES = ("dash", "solid", "round_dot")
_SCATTERS_A_ROW = 4

_GAP_PIXELS = 8
"""Between neighbours."""

ROW_PIXELS = 20
"""Height of a row in which nothing is written."""


@dataclass(frozen=True, slots=True)
class Area:
    """Where a table stands. heading_row : counted from 0. pixels : width of the tab's tables."""

    tab: str
    heading_row: int
    headings: Sequence[Heading]
    rows: Sequence[Sequence[Value]]
    pixels: int


def chart_rows(charts: Sequence[Chart], rows: int) -> list[tuple[int, int]]:
    """Return the first row of each chart, counted from the first of all, and how many rows it takes."""
    return [(place.row, place.rows) for place in _places(charts, rows)]


def rows_taken(charts: Sequence[Chart], rows: int) -> int:
    """Return how many rows the charts of a table take up, with a gap below."""
    return max((place.row + place.rows for place in _places(charts, rows)), default=-1) + 1


def add_charts(
    workbook: Workbook,
    sheet: Worksheet,
    charts: Sequence[Chart],
    top: int,
    area: Area,
    texts: Texts,
    font_size: int = 10,
) -> None:
    """Put the charts of a table below each other from a row on, the scatters side by side.

    Notes
    -----
    Never beside the table: that would shrink the printed page. On whole rows, and scatters on whole columns,
    for programs differ in how wide they show one.
    """
    for chart, place in zip(charts, _places(charts, len(area.rows)), strict=True):
        drawn = _scatter(workbook, chart, area) if chart.kind == "scatter" else _bars(workbook, chart, area)
        _dress(drawn, chart, area, font_size)
        width = area.pixels // (_SCATTERS_A_ROW if chart.kind == "scatter" else 1)
        drawn.set_size({"width": width - _GAP_PIXELS, "height": place.rows * ROW_PIXELS - _GAP_PIXELS})
        column = place.across * (len(area.headings) // _SCATTERS_A_ROW)
        description = texts["report_common.chart"].format(title=chart.title)
        # Off the line between two rows: a page that ends there would show the edge of the chart on the next.
        shown = {"object_position": 2, "description": description, "y_offset": _GAP_PIXELS // 2}
        sheet.insert_chart(top + place.row, column, drawn, shown)


@dataclass(frozen=True, slots=True)
class _Place:
    """row : the first, counted from the first of all charts. across : which of those side by side."""

    row: int
    rows: int
    across: int


def _places(charts: Sequence[Chart], table_rows: int) -> list[_Place]:
    places, row, across = [], 0, 0
    for chart in charts:
        first, last = chart.rows or (0, table_rows - 1)
        rows = {"bar": 5 + (last - first + 1) * 5 // 4, "column": 16, "scatter": 13}[chart.kind]
        places.append(_Place(row, rows, across))
        across = (across + 1) % _SCATTERS_A_ROW if chart.kind == "scatter" else 0
        row += rows if across == 0 else 0
    return places


def _range(chart: Chart, area: Area, column: int) -> tuple[str, int, int, int, int]:
    first, last = chart.rows or (0, len(area.rows) - 1)
    top = area.heading_row + 1
    return area.tab, top + first, column, top + last, column


def _bars(workbook: Workbook, chart: Chart, area: Area) -> Any:
    drawn = workbook.add_chart({"type": chart.kind})
    words = list(_range(chart, area, chart.words))
    labels: dict[str, Any] = {"value": True, "font": {"color": _INK, "name": "Arial", "size": 10}}
    series: dict[str, Any] = {
        "name": area.headings[chart.numbers].text,
        "categories": words,
        "values": list(_range(chart, area, chart.numbers)),
        "fill": {"color": _BAR},
        "gap": 60,
    }
    if chart.reach is not None:
        series["y_error_bars"] = _error_bars(chart, area, chart.reach)
    else:
        if area.headings[chart.numbers].format == "result_1":
            labels["num_format"] = "0.0"
        series["data_labels"] = labels
    drawn.add_series(series)
    if chart.lines:
        lines = workbook.add_chart({"type": "line"})
        for number, column in enumerate(chart.lines):
            style = {"color": _LINES[number], "width": 1.75, "dash_type": _DASHES[number]}
            lines.add_series(
                {
                    "name": area.headings[column].text,
                    "categories": words,
                    "values": list(_range(chart, area, column)),
                    "line": style,
                    "marker": {"type": "none"},
                }
            )
        drawn.combine(lines)
    return drawn


def _error_bars(chart: Chart, area: Area, column: int) -> dict[str, Any]:
    tab, first, _, last, _ = _range(chart, area, column)
    cells = f"={quote_sheetname(tab)}!{xl_range_abs(first, column, last, column)}"
    return {
        "type": "custom",
        "plus_values": cells,
        "minus_values": cells,
        "line": {"color": _INK, "width": 1.5},
    }


def _scatter(workbook: Workbook, chart: Chart, area: Area) -> Any:
    drawn = workbook.add_chart({"type": "scatter"})
    across = list(_range(chart, area, chart.words))
    drawn.add_series(
        {
            "name": area.headings[chart.numbers].text,
            "categories": across,
            "values": list(_range(chart, area, chart.numbers)),
            "marker": {"type": "circle", "size": 4, "fill": {"color": _BAR}, "border": {"color": _BAR}},
        }
    )
    for number, column in enumerate(chart.lines):
        drawn.add_series(
            {
                "name": area.headings[column].text,
                "categories": across,
                "values": list(_range(chart, area, column)),
                "line": {"color": _LINES[number], "width": 1.5, "dash_type": _DASHES[number]},
                "marker": {"type": "none"},
            }
        )
    return drawn


def _dress(drawn: Any, chart: Chart, area: Area, font_size: int) -> None:
    font = {"color": _INK, "name": "Arial", "size": font_size}
    name_font = {**font, "bold": False}
    drawn.set_title({"name": chart.title, "name_font": {**font, "size": font_size + 2}, "overlay": False})
    grid = {"major_gridlines": {"visible": True, "line": {"color": "#D9DEDB", "width": 0.5}}}
    if chart.lines and chart.kind != "scatter":
        drawn.set_legend({"position": "bottom", "font": font})
    else:
        drawn.set_legend({"none": True})
    if chart.kind == "bar":
        drawn.set_y_axis({"reverse": True, "num_font": font})
        drawn.set_x_axis({"min": 0, "visible": False, "major_gridlines": {"visible": False}})
        return
    values: dict[str, Any] = {
        "name": area.headings[chart.numbers].text,
        "name_font": name_font,
        "num_font": font,
        **grid,
    }
    if chart.kind == "scatter":
        drawn.set_x_axis(
            {
                "name": area.headings[chart.words].text,
                "name_font": name_font,
                "num_font": font,
                "num_format": "0",
                "label_position": "low",
                "major_gridlines": {"visible": False},
            }
        )
        drawn.set_y_axis({**values, "num_format": "0.0"})
        return
    drawn.set_x_axis({"num_font": font, "label_position": "low"})
    if chart.reach is not None:
        values |= _reached(chart, area, chart.reach)
    else:
        values["min"] = 0
    whole = area.headings[chart.numbers].format == "text"
    drawn.set_y_axis({**values, "num_format": "0" if whole else "0.0"})


def _reached(chart: Chart, area: Area, reach: int) -> dict[str, float]:
    """The ends of an axis that holds every interval: programs make room for the values alone."""
    ends = []
    for row in area.rows:
        middle, half = row[chart.numbers], row[reach]
        if isinstance(middle, float) and isinstance(half, float):
            ends += [middle - half, middle + half]
    return {"min": math.floor(2 * min(ends)) / 2, "max": math.ceil(2 * max(ends)) / 2} if ends else {}
