"""A native bar chart on a tab: it follows the cells that it shows, and reads in grey."""

from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.model.layout import Chart, Series, Tab

__all__ = ["place_chart"]

_INK = "#22312C"
_PAPER = "#FFFFFF"
_GRID = "#D9DEDB"
_POINTS = 11
_FONT = {"name": "Arial", "size": _POINTS, "color": _INK, "bold": False}


def place_chart(workbook: Workbook, sheet: Worksheet, tab: Tab, chart: Chart) -> None:
    """Put a chart in its place; it moves with its cell."""
    drawn = workbook.add_chart({"type": "column"})
    for series in chart.series:
        drawn.add_series(_bars(tab, chart, series))
    drawn.set_title({"name": chart.title, "name_font": {**_FONT, "size": _POINTS + 2, "bold": True}})
    drawn.set_x_axis({"name": chart.category_title, "name_font": _FONT, "num_font": _FONT})
    drawn.set_y_axis(
        {
            "name": chart.value_title, "name_font": _FONT, "num_font": _FONT, "num_format": "0", "min": 0,
            "major_gridlines": {"visible": True, "line": {"color": _GRID, "width": 0.75}},
        }
    )  # fmt: skip
    drawn.set_legend({"position": "bottom", "font": _FONT})
    drawn.set_size({"width": chart.width, "height": chart.height})
    options = {"object_position": 2, "description": chart.alternative_text}
    sheet.insert_chart(chart.row, chart.column, drawn, options)


def _bars(tab: Tab, chart: Chart, series: Series) -> dict[str, Any]:
    """Told apart by their filling, and each with its number; a bar that is not there has none."""
    first, last, words = chart.categories
    look: dict[str, Any] = {"fill": {"color": _INK}}
    if series.fill == "striped":
        look = {"pattern": {"pattern": "wide_upward_diagonal", "fg_color": _INK, "bg_color": _PAPER}}
    return {
        "name": series.name,
        "categories": [tab.title, first, words, last, words],
        "values": [tab.title, first, series.column, last, series.column],
        "border": {"color": _INK, "width": 1},
        "gap": 60,
        "overlap": 0,
        "data_labels": {"value": True, "num_format": "0.0#;;", "font": _FONT},
        **look,
    }
