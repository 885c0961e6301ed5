import io
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.model.attempt import Attempt
from sheetgen.report.workbook import report_bytes
from tests.report.invented import BOOK, PROTOCOLS, accepted, finding, record, refused_without_record, returned

STYLE = (Path(__file__).parents[2] / "templates" / "style.toml").read_text(encoding="utf-8")
WORDS = {"ok": "", "sum-missing": "no sum: a site has no value"}
TABS = ["Overview", "Sheets", "Results", "Repeat difference", "Findings", "Findings by kind"]
ATTEMPTS = (
    accepted(1, data_source="practice"),
    returned(2, "review", finding("sheet-formula-changed", "error", "Readings", "G12", "=1+1")),
    refused_without_record("=cmd.xlsx"),
)


def report(attempts: Sequence[Attempt] = ATTEMPTS) -> bytes:
    handed_out = [record(1), record(2), record(3)]
    return report_bytes(BOOK, attempts, 1, handed_out, PROTOCOLS, WORDS, STYLE)


def opened(attempts: Sequence[Attempt] = ATTEMPTS) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(report(attempts)))


def lines(sheet: Worksheet) -> list[tuple[object, ...]]:
    return list(sheet.iter_rows(values_only=True))


def test_report_has_the_same_bytes_for_the_same_inputs() -> None:
    assert report() == report(ATTEMPTS[::-1])


def test_report_tabs_have_a_title_and_no_merged_cells() -> None:
    workbook = opened()
    assert workbook.sheetnames == TABS
    assert [sheet["A1"].value for sheet in workbook] == [
        "Report on session 1",
        "Returned files, session 1",
        "Results by code, session 1",
        "Repeat difference, session 1",
        "Findings, session 1",
        "Findings by kind, session 1",
    ]
    assert [sheet.merged_cells.ranges for sheet in workbook] == [set()] * 6


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


@pytest.mark.parametrize("tab", ["Results", "Repeat difference"])
def test_report_names_nobody_beside_values(tab: str) -> None:
    text = str(lines(opened()[tab]))
    for person in BOOK.people:
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
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_report_repeats_headings_and_freezes_them() -> None:
    found = {
        sheet.title: (sheet.print_title_rows, sheet.freeze_panes, sheet.auto_filter.ref) for sheet in opened()
    }
    assert found == {
        "Overview": ("$15:$15", "A2", None),
        "Sheets": ("$4:$4", "B5", "A4:H7"),
        "Results": ("$5:$5", "B6", None),
        "Repeat difference": ("$4:$4", "B5", None),
        "Findings": ("$4:$4", "B5", "A4:G6"),
        "Findings by kind": ("$4:$4", "B5", None),
    }


def test_report_has_a_bar_chart_of_findings_only_where_there_are_some() -> None:
    with_findings = {sheet.title: len(sheet._charts) for sheet in opened()}
    assert with_findings == {**dict.fromkeys(TABS, 0), "Findings by kind": 1}
    assert [len(sheet._charts) for sheet in opened([accepted(1)])] == [0] * 6


def test_report_of_a_session_without_files() -> None:
    workbook = opened([])
    assert workbook.sheetnames == TABS
    assert len([line for line in lines(workbook["Overview"]) if line[3] == "nothing"]) == 3
