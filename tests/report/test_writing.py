import io
from collections.abc import Sequence

import openpyxl
import xlsxwriter

from sheetgen.report.page import Chart, Heading
from sheetgen.report.writing import Area, add_charts
from tests.report.invented import TEXTS

HEADINGS = (Heading("Site", 10), Heading("Value", 10, "result_1"), Heading("Limit", 10), Heading("Reach", 10))
ROWS = (("a", 1.25, 5.0, 0.5), ("b", -0.5, 5.0, 0.25), ("c", None, 5.0, None))


def drawn(charts: Sequence[Chart], tab: str = "Tab") -> list[object]:
    """The charts of a tab with the table in rows 1 to 4, as another library reads them."""
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    sheet = workbook.add_worksheet(tab)
    add_charts(workbook, sheet, charts, 6, Area(tab, 0, HEADINGS, ROWS, 400), TEXTS)
    workbook.close()
    return list(openpyxl.load_workbook(io.BytesIO(stream.getvalue()))[tab]._charts)


def test_column_chart_follows_its_cells_and_has_the_limit_as_a_line() -> None:
    (chart,) = drawn([Chart("Values", 0, 1, lines=(2,), rows=(0, 1))])
    column, line = chart._charts  # type: ignore[attr-defined]
    assert (column.ser[0].val.numRef.f, line.ser[0].val.numRef.f) == ("Tab!$B$2:$B$3", "Tab!$C$2:$C$3")
    assert column.ser[0].cat.strRef is not None or column.ser[0].cat.numRef.f == "Tab!$A$2:$A$3"


def test_interval_is_drawn_as_error_bars_inside_the_axis() -> None:
    """1.25 with 0.5 above and -0.5 with 0.25 below: from -1 to 2 in halves outward."""
    (chart,) = drawn([Chart("Values", 0, 1, reach=(3, 3))])
    bars = chart.ser[0].errBars  # type: ignore[attr-defined]
    assert (bars.plus.numRef.f, bars.minus.numRef.f) == ("Tab!$D$2:$D$4", "Tab!$D$2:$D$4")
    axis = chart.y_axis.scaling  # type: ignore[attr-defined]
    assert (axis.min, axis.max) == (-1.0, 2.0)


def test_charts_of_a_table_stand_side_by_side_below_it() -> None:
    charts = drawn([Chart("Values", 0, 1)] * 2)
    assert [chart.anchor._from.row for chart in charts] == [6, 6]  # type: ignore[attr-defined]
    assert charts[0].anchor.to.col <= charts[1].anchor._from.col  # type: ignore[attr-defined]


def test_colours_are_those_of_the_sheets() -> None:
    (chart,) = drawn([Chart("Values", 0, 1, lines=(2,))])
    bar, line = (one.ser[0].graphicalProperties for one in chart._charts)  # type: ignore[attr-defined]
    colours = [one.srgbClr for one in (bar.solidFill, line.line.solidFill)]
    assert [getattr(colour, "val", colour) for colour in colours] == ["0B5563", "B45309"]


def test_interval_is_found_on_a_tab_whose_name_has_an_apostrophe() -> None:
    """Names of tabs are words of a language."""
    (chart,) = drawn([Chart("Values", 0, 1, reach=(3, 3))], "L'essai")
    assert chart.ser[0].errBars.plus.numRef.f == "'L''essai'!$D$2:$D$4"  # type: ignore[attr-defined]
