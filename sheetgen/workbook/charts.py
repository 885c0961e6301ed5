"""Native charts in a tab: bars and lines that follow the cells which they show, and plots without axes."""

from collections.abc import Mapping
from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.layout import Chart, Plot, Series

_POINTS = 12
_LINES = {"dashed": ("line_1", "dash"), "dotted": ("ink", "round_dot")}
"""Fill of a series that is a line to its colour and its dashes."""


def place_chart(
    workbook: Workbook, sheet: Worksheet, tab: str, chart: Chart, colours: Mapping[str, str]
) -> None:
    """Put a native bar chart in its place: it moves with its cell, follows the cells that it shows, and reads
    in grey. Bars are told apart by their filling, each with its number; one that is not there has none."""
    ink = colours["ink"]
    font = {"name": "Arial", "size": chart.points, "color": ink, "bold": False}
    bars = [series for series in chart.series if series.fill not in _LINES]
    lines = [series for series in chart.series if series.fill in _LINES]
    drawn = workbook.add_chart({"type": "column"})
    for series in bars:
        drawn.add_series(_series(tab, chart, series) | _bars(tab, chart, series, colours))
    if lines:
        across = workbook.add_chart({"type": "line"})
        for series in lines:
            colour, dash = _LINES[series.fill]
            line = {"color": colours[colour], "width": 1.75, "dash_type": dash}
            across.add_series(_series(tab, chart, series) | {"line": line, "marker": {"type": "none"}})
        drawn.combine(across)
    large = {**font, "size": chart.points + 2, "bold": True}
    drawn.set_title({"name": chart.title, "name_font": large, "overlay": False})
    drawn.set_chartarea({"border": {"none": True}})
    axis = {"name_font": font, "num_font": font}
    # Below the lowest bar, not across the bars.
    drawn.set_x_axis({"name": chart.category_title, "label_position": "low", **axis})
    grid = {"visible": True, "line": {"color": colours["grid"], "width": 0.75}}
    ends = {end: at for end, at in zip(("min", "max"), chart.ends, strict=True) if at is not None}
    scale = {"num_format": chart.value_format, "major_gridlines": grid, **ends}
    drawn.set_y_axis({"name": chart.value_title, **axis, **scale})
    drawn.set_legend({"position": "bottom", "font": font} if len(chart.series) > 1 else {"none": True})
    drawn.set_size({"width": chart.width, "height": chart.height})
    options = {"object_position": 2, "description": chart.alternative_text}
    offsets = {"x_offset": chart.x_offset, "y_offset": chart.y_offset}
    sheet.insert_chart(chart.row, chart.column, drawn, options | offsets)


def _series(tab: str, chart: Chart, series: Series) -> dict[str, Any]:
    first, last, words = chart.categories
    values, categories = ([tab, first, column, last, column] for column in (series.column, words))
    return {"name": series.name, "categories": categories, "values": values}


def _bars(tab: str, chart: Chart, series: Series, colours: Mapping[str, str]) -> dict[str, Any]:
    """How bars look, with their numbers and intervals."""
    ink, (first, last, _) = colours["ink"], chart.categories
    striped = {"pattern": "wide_upward_diagonal", "fg_color": ink, "bg_color": colours["paper"]}
    fills: dict[str, dict[str, Any]] = {
        "solid": {"fill": {"color": ink}},
        "striped": {"pattern": striped},
        "plain": {"fill": {"color": colours["line_2"]}},
    }
    look: dict[str, Any] = {
        "border": {"color": ink, "width": 1},
        "gap": 60,
        "overlap": 0,
        **fills[series.fill],
    }
    if series.number:
        font = {"name": "Arial", "size": min(chart.points, _POINTS), "color": ink, "bold": False}
        look["data_labels"] = {"value": True, "num_format": series.number, "font": font}
    if series.reach:
        below, above = (
            f"={in_tab(tab, absolute(first, column) + ':' + absolute(last, column))}"
            for column in series.reach
        )
        bars = {"type": "custom", "plus_values": above, "minus_values": below}
        look["y_error_bars"] = {**bars, "line": {"color": ink, "width": 1.5}}
    return look


def place_plot(
    workbook: Workbook, sheet: Worksheet, plot: Plot, tab: str, words: str, colours: Mapping[str, str]
) -> None:
    """Put lines in their place, with nothing around them."""
    drawn = workbook.add_chart({"type": "scatter", "subtype": "straight"})
    font = {"name": "Arial", "size": _POINTS, "color": colours["ink"]}
    for line in plot.lines:
        labels = {"value": True, "position": "center", "font": font}
        labels["custom"] = [{"value": word, "font": font} for word in line.words]
        colour = {"color": colours.get(line.look), "width": 1.0 if line.look == "ink" else 1.75}
        drawn.add_series(
            {
                "categories": [tab, line.first, line.column, line.last, line.column],
                "values": [tab, line.first, line.column + 1, line.last, line.column + 1],
                "line": colour if line.look in colours else {"none": True},
                "marker": {"type": "none"},
                **({"data_labels": labels} if line.words else {}),
            }
        )
    left, right, bottom, top = plot.ranges
    plain = {"visible": False, "major_gridlines": {"visible": False}}
    drawn.set_x_axis({"min": left, "max": right, **plain})
    drawn.set_y_axis({"min": bottom, "max": top, **plain})
    drawn.set_legend({"none": True})
    # The points stand on a tab that nobody sees.
    drawn.show_hidden_data()
    drawn.set_plotarea({"layout": {"x": 0.02, "y": 0.02, "width": 0.96, "height": 0.96}})
    drawn.set_chartarea({"border": {"color": colours["grid"]}})
    drawn.set_size({"width": plot.width, "height": plot.height})
    options = {"object_position": 2, "description": words, "x_offset": 4, "y_offset": 4}
    sheet.insert_chart(plot.row, plot.column, drawn, options)
