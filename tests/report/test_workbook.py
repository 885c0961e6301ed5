import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.checking.class_analysis import ClassAnalysis, class_analysis
from sheetgen.checking.class_findings import class_findings
from sheetgen.model.attempt import Attempt
from sheetgen.model.mark_row import MarkRow
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Chart, Heading, Page, Section, SessionResults
from sheetgen.report.workbook import report_bytes
from sheetgen.report.writing import formats_of, write_page
from tests.report.analysed import alone, compared, retested
from tests.report.invented import (
    BOOK,
    PROTOCOLS,
    TEXTS,
    accepted,
    finding,
    record,
    refused_without_record,
    returned,
)
from tests.simulation import protocol

STYLE = (Path(__file__).parents[2] / "templates" / "style.toml").read_text(encoding="utf-8")
TITLES = {
    "Overview": "Report on session 1",
    "For the class": "How we measured, session 1",
    "Sheets": "Returned files, session 1",
    "Marks": "Marks, session 1",
    "Results": "Results by code, session 1",
    "Precision by site": "Precision by site, session 1",
    "Agreement": "Agreement of measurers, session 1",
    "Calipers": "Calipers, session 1",
    "Readings that pile up": "Readings that pile up, session 1",
    "Repeat difference": "Your repeat difference by student code, session 1",
    "To talk to": "To talk to, session 1",
    "Findings": "Findings, session 1",
    "Findings by kind": "Findings by kind, session 1",
    "Data": "Data, session 1",
}
TABS = list(TITLES)
WITH_NAMES = ("Overview", "Sheets", "Marks", "Findings")
"""Sheets and Findings hold file names and student ids."""
ATTEMPTS = (
    accepted(1, data_source="practice"),
    returned(2, "review", finding("sheet-formula-changed", "error", "Readings", "G12", "=1+1")),
    refused_without_record("=cmd.xlsx"),
)


def report(attempts: Sequence[Attempt] = ATTEMPTS, marks: Sequence[MarkRow] = ()) -> bytes:
    handed_out = [record(1), record(2), record(3)]
    analysis = class_analysis(attempts, BOOK, 1)
    results = SessionResults(BOOK, attempts, 1, handed_out, analysis, marks)
    return report_bytes(results, PROTOCOLS, TEXTS, STYLE)


def opened(attempts: Sequence[Attempt] = ATTEMPTS, marks: Sequence[MarkRow] = ()) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(report(attempts, marks)))


def lines(sheet: Worksheet) -> list[tuple[object, ...]]:
    return list(sheet.iter_rows(values_only=True))


def test_report_has_the_same_bytes_for_the_same_inputs() -> None:
    assert report() == report(ATTEMPTS[::-1])


def test_report_tabs_have_a_title_and_no_merged_cells() -> None:
    workbook = opened()
    assert workbook.sheetnames == TABS
    assert {sheet.title: sheet["A1"].value for sheet in workbook} == TITLES
    assert [sheet.merged_cells.ranges for sheet in workbook] == [set()] * len(TABS)


def test_report_overview_lists_missing_people() -> None:
    found = lines(opened()["Overview"])
    assert found[4][:3] == ("What", "How many", "What to do")
    assert [line[:2] for line in found[5:12]] == [
        ("Sheets handed out", 3),
        ("Files returned", 3),
        ("Files accepted", 1),
        ("Files for review", 1),
        ("Files refused", 1),
        ("Files superseded", 0),
        ("Sheets missing", 1),
    ]
    assert found[-2] == ("Student", "Student id", "Sheet file", "What came back", "Email")
    assert found[-1] == ("Ines Holt", "1003", "session-1-1003.xlsx", "nothing", None)


def test_report_overview_where_nothing_is_missing() -> None:
    found = lines(opened([accepted(1), accepted(2), accepted(3)])["Overview"])
    assert found[-1][0] == "No sheet is missing."


@pytest.mark.parametrize("tab", [tab for tab in TABS if tab not in WITH_NAMES])
def test_report_names_nobody_beside_values(tab: str) -> None:
    marks = [MarkRow(one.student_id, one.given_name, one.family_name, 1, 2, "final") for one in BOOK.people]
    text = str(lines(opened(marks=marks)[tab]))
    for person in BOOK.people:
        assert person.given_name not in text
        assert person.family_name not in text
        assert person.student_id not in text


def test_report_marks_practice_nowhere() -> None:
    workbook = opened()
    assert [sheet.title for sheet in workbook if "practice" in str(lines(sheet)).casefold()] == []


def test_report_texts_are_never_formulas() -> None:
    workbook = opened([*ATTEMPTS, returned(2, "refused", file="+1.xlsx")])
    kinds = {cell.data_type for sheet in workbook for row in sheet.iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    assert workbook["Sheets"]["A8"].value == "=cmd.xlsx"


def test_report_cuts_a_very_long_text() -> None:
    workbook = opened([returned(1, "review", finding("entry-long", "note", found="x" * 40000))])
    assert workbook["Findings"]["E5"].value == "x" * 999 + "…"


def test_report_holds_a_file_name_that_is_not_text() -> None:
    workbook = opened([returned(1, "review", file="sheet\udcff.xlsx")])
    assert workbook["Sheets"]["A5"].value == "sheet?.xlsx"


def test_report_prints_one_page_wide_with_page_numbers() -> None:
    for sheet in opened():
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        if sheet.title != "For the class":
            assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_report_repeats_the_only_headings_of_a_tab_and_freezes_them() -> None:
    found = {
        sheet.title: (sheet.print_title_rows, sheet.freeze_panes, sheet.auto_filter.ref) for sheet in opened()
    }
    assert {tab: found[tab] for tab in ("Overview", "Sheets", "Results", "Findings", "Calipers", "Data")} == {
        "Overview": ("$15:$15", "A2", None),
        "Sheets": ("$4:$4", "B5", "A4:I7"),
        "Results": ("$5:$5", "B6", None),
        "Findings": ("$4:$4", "B5", "A4:G6"),
        "Calipers": (None, "A2", None),
        "Data": (None, "A2", None),
    }


def class_report(members: tuple[ClassBook, tuple[Attempt, ...], ClassAnalysis]) -> openpyxl.Workbook:
    book, attempts, analysis = members
    handed_out = [one.record for one in attempts if one.record is not None]
    marks = [MarkRow(one.student_id, "", "", 15.0, 20.0, "final") for one in book.people]
    of_class = [replace(one, severity="warning") for one in class_findings(analysis, TEXTS)]
    results = SessionResults(book, attempts, analysis.session, handed_out, analysis, marks, of_class)
    data = report_bytes(results, {"seven-sites": protocol()}, TEXTS, STYLE)
    return openpyxl.load_workbook(io.BytesIO(data))


def charts(workbook: openpyxl.Workbook) -> dict[str, list[str]]:
    found = {sheet.title: [type(chart).__name__ for chart in sheet._charts] for sheet in workbook}
    return {tab: kinds for tab, kinds in found.items() if kinds}


def test_report_of_a_compared_class_has_native_charts() -> None:
    assert charts(class_report(compared())) == {
        "For the class": ["BarChart"],
        "Marks": ["BarChart"],
        "Precision by site": ["BarChart"],
        "Agreement plots": ["ScatterChart"] * 7,
        "Calipers": ["BarChart"],
        "Readings that pile up": ["BarChart"],
        "Findings by kind": ["BarChart"],
    }


def test_report_of_single_measurers_has_no_charts_of_what_cannot_be_told() -> None:
    assert set(charts(class_report(alone()))) == {
        "For the class",
        "Marks",
        "Precision by site",
        "Readings that pile up",
        "Findings by kind",
    }


def test_report_overview_tells_what_the_class_shows() -> None:
    found = lines(class_report(compared())["Overview"])
    start = [line[0] for line in found].index("Tab")
    assert [line[0] for line in found[start + 1 : start + 5]] == [
        "To talk to",
        "Calipers",
        "Calipers",
        "Precision by site",
    ]


def test_report_has_a_retest_only_with_an_earlier_session() -> None:
    assert "Retest" in class_report(retested()).sheetnames
    assert "Retest" not in class_report(alone()).sheetnames


def test_report_prints_the_summary_for_the_class_on_one_page() -> None:
    sheet = class_report(compared())["For the class"]
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight or 1) == (1, 1)


def test_report_prints_the_plots_without_their_values() -> None:
    sheet = class_report(compared())["Agreement plots"]
    assert sheet.print_area == "'Agreement plots'!$A$1:$H$30"
    assert sheet["A31"].value == "Site"


def test_report_of_a_session_without_files() -> None:
    workbook = opened([])
    assert workbook.sheetnames == TABS
    assert len([line for line in lines(workbook["Overview"]) if line[3] == "nothing"]) == 3


def test_report_tells_its_language_and_its_title() -> None:
    workbook = opened()
    assert workbook.custom_doc_props["language"].value == "en"
    assert workbook.properties.title == f"{BOOK.title}: report on session 1"


def test_report_speaks_the_language_of_its_texts() -> None:
    """Every word of the texts is marked: what has no mark is data of the class."""
    marked = {key: re.sub(r"(\S+)", r"§\1", text) for key, text in TEXTS.items()}
    book, attempts, analysis = retested()
    of_class = [replace(one, severity="warning") for one in class_findings(analysis, marked)]
    handed_out = [one.record for one in attempts if one.record is not None]
    marks = [MarkRow("S01", "", "", 15.0, 20.0, "final")]
    results = SessionResults(book, attempts, 2, handed_out, analysis, marks, of_class)
    data = report_bytes(results, {"seven-sites": protocol()}, marked, STYLE)
    workbook = openpyxl.load_workbook(io.BytesIO(data))
    assert [tab for tab in workbook.sheetnames if not tab.startswith("§")] == []
    said = {str(sheet["A1"].value) for sheet in workbook}
    assert [title for title in said if not title.startswith("§")] == []
    words = {
        word
        for sheet in workbook
        for line in lines(sheet)
        for value in line
        for word in re.split(r"[\s,;:]+", str(value or ""))
        if re.fullmatch(r"[^\W\d_]{3,}\.?", word)
    }
    keys_of_tables = {"session", "file", "site", "round"}
    assert words - {site.title for site in protocol().sites} - keys_of_tables == {"simulated", "SIM"}


def test_report_charts_are_described() -> None:
    """A chart without an alternative text is silent to a screen reader."""
    book, attempts, analysis = compared()
    handed_out = [one.record for one in attempts if one.record is not None]
    results = SessionResults(book, attempts, 1, handed_out, analysis)
    data = report_bytes(results, {"seven-sites": protocol()}, TEXTS, STYLE)
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        drawings = [package.read(name).decode() for name in package.namelist() if "drawings/drawing" in name]
    found = [text for part in drawings for text in re.findall(r'descr="([^"]*)"', part)]
    assert len(found) == sum(part.count("<xdr:graphicFrame ") for part in drawings) == 11
    assert all(text.startswith("Chart of the table: ") for text in found)


def test_printed_page_ends_before_a_chart_and_not_within_one() -> None:
    """The dots of four sites stand side by side, thirteen rows tall: two such rows fill a page."""
    sheet = class_report(compared())["Agreement plots"]
    breaks = sorted(one.id for one in sheet.row_breaks.brk)
    charts = sorted({(chart.anchor._from.row, chart.anchor.to.row) for chart in sheet._charts})
    assert [one for one in breaks for first, last in charts if first < one <= last] == []


def test_charts_of_three_scales_stand_on_pages_of_their_own_and_the_next_table_too() -> None:
    page = Page(
        "Tab", "Title", (), (Heading("Digit", 20), Heading("Readings", 20, "text")),
        tuple((str(number), number) for number in range(6)),
        charts=tuple(Chart("column", "One scale", 0, 1, rows=rows) for rows in ((0, 1), (2, 3), (4, 5))),
        more=(Section("Below", ("A sentence.",)),),
    )  # fmt: skip
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    write_page(workbook, formats_of(workbook, STYLE), page, TEXTS)
    workbook.close()
    (sheet,) = openpyxl.load_workbook(stream).worksheets
    assert [chart.anchor._from.row for chart in sheet._charts] == [10, 26, 42]
    assert [one.id for one in sheet.row_breaks.brk] == [26, 42, 60]
