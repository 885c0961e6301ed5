"""What a session's results hold, and that a teacher's decisions survive every reading."""

import csv
import io
import re
import shutil
import zipfile
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from msgspec.structs import replace
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook
from sheetgen.commands.read import read_returned
from sheetgen.marking.marks import MarkRow
from sheetgen.report.page import Chart, Heading, Page, Section, SessionResults
from sheetgen.report.results import feedback_zip, report_bytes
from sheetgen.report.writing import formats_of, write_page
from sheetgen.returned import pool
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.pool import OwnProcesses
from sheetgen.statistics.analysis import ClassAnalysis, class_analysis, class_findings
from tests.classes import PEOPLE, built_class, copied, filled_sheet, record_of, returned
from tests.report.analysed import alone, compared, retested
from tests.report.invented import (
    BOOK,
    PROTOCOLS,
    TEXTS,
    accepted,
    finding,
    record,
    refused_without_record,
)
from tests.report.invented import (
    returned as returned_of_workbook,
)
from tests.reviews import typed
from tests.simulation import protocol


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    folder = built_class(tmp_path_factory.mktemp("made") / "class")
    for student in ("S01", "S02", "S03"):
        returned(folder, f"{student}_upload.xlsx", filled_sheet(folder, student))
    read_returned(folder, 1)
    return folder


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / "class")


def _marks(folder: ClassFolder) -> dict[str, tuple[str, str]]:
    rows = csv.DictReader(io.StringIO(folder.marks(1).read_text(encoding="utf-8-sig")))
    return {row["student_id"]: (row["score"], row["status"]) for row in rows}


def _typed(folder: ClassFolder, tab: str, about: dict[str, str], column: str, value: object) -> None:
    """Type into the review workbook as another program does, in the row that holds some values."""
    book = openpyxl.load_workbook(folder.review(1))
    sheet = book[tab]
    rows = list(sheet.iter_rows())
    heading = next(row for row in rows if any(cell.value == column for cell in row))
    at = {str(cell.value): cell.column - 1 for cell in heading}
    row = next(
        row
        for row in rows[heading[0].row :]
        if all(row[at[name]].value == wanted for name, wanted in about.items())
    )
    row[at[column]].value = value
    book.save(folder.review(1))


def test_marks_hold_scores_and_the_missing_are_never_nought(folder: ClassFolder) -> None:
    assert _marks(folder) == {
        "S01": ("85.0", "to be marked"),
        "S02": ("85.0", "to be marked"),
        "S03": ("85.0", "to be marked"),
        "S04": ("", "missing"),
    }


def test_feedback_is_one_workbook_a_sheet_and_a_zip_under_the_incoming_names(folder: ClassFolder) -> None:
    names = sorted(path.name for path in folder.feedback(1).iterdir())
    assert names == sorted(record_of(folder, student).file_name for student in ("S01", "S02", "S03"))
    with zipfile.ZipFile(folder.feedback_zip(1)) as package:
        assert sorted(package.namelist()) == ["S01_upload.xlsx", "S02_upload.xlsx", "S03_upload.xlsx"]


def test_adjusted_mark_and_comment_survive_every_reading(folder: ClassFolder) -> None:
    """Files are added, replaced and removed in between."""
    code = record_of(folder, "S01").copy_code
    _typed(folder, "Review", {"Copy code": code}, "Adjusted mark", 91.5)
    _typed(folder, "Review", {"Copy code": code}, "Comment", "Well marked sites.")
    for number in range(4):
        path = folder.returned(1) / "S04_upload.xlsx"
        if number % 3 == 0:
            returned(folder, path.name, filled_sheet(folder, "S04"))
        elif number % 3 == 1:
            returned(folder, path.name, filled_sheet(folder, "S04", {"zero_mm": 0.5}))
        else:
            path.unlink()
        read_returned(folder, 1)
        assert _marks(folder)["S01"] == ("91.5", "final")
    feedback = openpyxl.load_workbook(folder.feedback(1) / record_of(folder, "S01").file_name)
    texts = [str(cell.value) for row in feedback.active.iter_rows() for cell in row if cell.value]
    assert any("Well marked sites." in text for text in texts)


def test_points_for_short_answers_make_a_mark_final(folder: ClassFolder) -> None:
    code = record_of(folder, "S02").copy_code
    for name, points in (("answer_repeat", 5), ("answer_zero", 3), ("answer_error", 4)):
        _typed(folder, "Answers", {"Copy code": code, "Entry": name}, "Points given", points)
    read_returned(folder, 1)
    assert _marks(folder)["S02"] == ("97.0", "final")


def test_correction_is_applied_before_anything_is_worked_out(folder: ClassFolder) -> None:
    record = record_of(folder, "S03")
    path = folder.returned(1) / "S03_upload.xlsx"
    before = path.read_bytes()
    book = openpyxl.load_workbook(folder.review(1))
    sheet = book["Corrections"]
    heading = next(row for row in sheet.iter_rows() if any(cell.value == "Copy code" for cell in row))
    at = {str(cell.value): cell.column for cell in heading}
    for column, value in (
        ("Copy code", record.copy_code),
        ("Entry", "reading_1_thigh"),
        ("Value", 40),
        ("Reason", "misread"),
    ):  # fmt: skip
        sheet.cell(heading[0].row + 1, at[column], value)
    book.save(folder.review(1))
    attempt = next(
        one for one in read_returned(folder, 1).attempts if one.record and one.record.student_id == "S03"
    )
    assert attempt.entries["reading_1_thigh"] == 40
    assert "entry-corrected" in {finding.code for finding in attempt.findings}
    assert path.read_bytes() == before


@pytest.fixture(scope="module")
def made_and_read(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    read_class = built_class(tmp_path_factory.mktemp("read") / "class")
    for student in PEOPLE:
        returned(read_class, f"{student}.xlsx", filled_sheet(read_class, student))
    read(read_class)
    return read_class


@pytest.fixture
def read_class(made_and_read: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made_and_read, tmp_path / "class")


def results(read_class: ClassFolder) -> dict[str, bytes]:
    files = [path for path in read_class.results(1).rglob("*") if path.is_file()]
    return {path.relative_to(read_class.results(1)).as_posix(): path.read_bytes() for path in files}


def times(read_class: ClassFolder) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in read_class.feedback(1).iterdir()}


def read(read_class: ClassFolder) -> None:
    read_returned(read_class, 1, today="2027-01-15")


def test_a_new_file_changes_no_page_of_feedback_but_its_own(read_class: ClassFolder) -> None:
    (read_class.returned(1) / "S04.xlsx").unlink()
    read(read_class)
    before = times(read_class)
    returned(read_class, "S04.xlsx", filled_sheet(read_class, "S04"))
    read(read_class)
    after = times(read_class)
    assert len(after) == 4
    assert before == {name: time for name, time in after.items() if name in before}


def test_a_comment_or_a_hand_on_a_page_of_feedback_makes_that_page_anew(
    read_class: ClassFolder,
) -> None:
    before, whole = times(read_class), results(read_class)
    code, name = (
        record_of(read_class, "S01").copy_code,
        record_of(read_class, "S01").file_name,
    )
    other = read_class.feedback(1) / record_of(read_class, "S02").file_name
    typed(read_class, "Review", {(code, "Comment"): "Well done."})
    other.write_bytes(b"changed by hand")
    read(read_class)
    after = times(read_class)
    assert {one for one in after if after[one] != before[one]} == {name, other.name}
    assert results(read_class)[f"feedback/{other.name}"] == whole[f"feedback/{other.name}"]
    assert results(read_class)[f"feedback/{name}"] != whole[f"feedback/{name}"]


def test_pages_are_the_same_whoever_makes_them(
    read_class: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = results(read_class)
    shutil.rmtree(read_class.results(1))
    monkeypatch.setattr(pool, "_MANY", 1)
    with OwnProcesses(2) as own:
        read_returned(read_class, 1, today="2027-01-15", executor=own)
    assert results(read_class) == before


TITLES = {
    "Today": "Today: session 1, Measurement, second year",
    "Marks": "Marks, session 1",
    "Sheets": "Sheets that came back, session 1",
    "For the class": "How we measured, session 1",
    "Codes and names": "Codes and names, session 1",
    "Details": "Details, session 1: for the screen, not printed",
}
TABS = list(TITLES)
NOT_PRINTED = ("Codes and names", "Details")
WITH_NAMES = ("Today", "Sheets", "Marks", "Codes and names", "Details")
"""Sheets and Details hold names of files and, Sheets, student ids."""
ATTEMPTS = (
    accepted(1, data_source="practice"),
    returned_of_workbook(2, "review", finding("sheet-formula-changed", "error", "Readings", "G12", "=1+1")),
    refused_without_record("=cmd.xlsx"),
)


def report(attempts: Sequence[Attempt] = ATTEMPTS, marks: Sequence[MarkRow] = ()) -> bytes:
    handed_out = [record(1), record(2), record(3)]
    analysis = class_analysis(attempts, BOOK, 1)
    results = SessionResults(BOOK, attempts, 1, handed_out, analysis, marks)
    return report_bytes(results, (), PROTOCOLS, TEXTS)


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


def test_every_tab_says_the_name_of_its_session_where_it_has_one() -> None:
    book, attempts, analysis = retested()
    named = replace(book, session_names=("week 3", "week 9"))
    workbook = class_report((named, attempts, analysis))
    titles = {sheet.title: str(sheet["A1"].value) for sheet in workbook}
    assert titles["Over time"] == "Over time: session 2 (week 9) against session 1 (week 3)"
    assert [tab for tab, title in titles.items() if "session 2 (week 9)" not in title] == []


def test_report_lists_missing_people_first() -> None:
    found = lines(opened()["Today"])
    at = [line[0] for line in found].index("Student")
    assert found[at : at + 2] == [
        ("Student", "Student id", "What came"),
        ("Ines Holt", "1003", "nothing"),
    ]


def test_report_where_nothing_is_missing() -> None:
    found = lines(opened([accepted(1), accepted(2), accepted(3)])["Today"])
    assert "Everybody's sheet is here." in [line[0] for line in found]


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
    practice = [line for sheet in workbook for line in lines(sheet) if "practice" in str(line).casefold()]
    assert [line[0] for line in practice] == ["   with a practice sheet: cannot be told from chance at all"]


def test_report_texts_are_never_formulas() -> None:
    workbook = opened([*ATTEMPTS, returned_of_workbook(2, "refused", file="+1.xlsx")])
    kinds = {cell.data_type for sheet in workbook for row in sheet.iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    assert "=cmd.xlsx" in [row[0] for row in lines(workbook["Sheets"])]


def test_report_cuts_a_very_long_text() -> None:
    workbook = opened([returned_of_workbook(1, "review", finding("entry-long", "note", found="x" * 40000))])
    assert workbook["Details"]["E4"].value == "x" * 999 + "…"


def test_report_holds_a_file_name_that_is_not_text() -> None:
    workbook = opened([returned_of_workbook(1, "review", file="sheet\udcff.xlsx")])
    assert workbook["Sheets"]["A4"].value == "sheet?.xlsx"


def test_report_prints_one_page_wide_upright_with_page_numbers() -> None:
    for sheet in opened():
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        wall = sheet.title == "For the class"
        if sheet.title not in NOT_PRINTED:
            assert sheet.page_setup.orientation == ("landscape" if wall else "portrait")
        one_page = wall or sheet.title in ("Today", "Marks")
        height = 1 if sheet.page_setup.fitToHeight is None else sheet.page_setup.fitToHeight
        assert (sheet.page_setup.fitToWidth or 1, height) == (1, 1 if one_page else 0)
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_report_prints_nothing_of_what_is_for_the_screen() -> None:
    """The area that would be printed is an empty cell beside the tables."""
    for tab in NOT_PRINTED:
        sheet = opened()[tab]
        area = str(sheet.print_area).rpartition("!")[2].replace("$", "").partition(":")[0]
        assert sheet[area].value is None
        assert sheet[area].column > sheet.max_column - 1


def test_report_prints_of_the_tab_sheets_what_asks_for_something() -> None:
    """Of three sheets the one that counts stands last, below what is printed."""
    sheet = opened()["Sheets"]
    assert [line[2] for line in lines(sheet)[3:]] == ["waits for you", "cannot be used", "counts"]
    assert str(sheet.print_area).rpartition("!")[2] == "$A$1:$D$5"


def test_report_repeats_the_only_headings_of_a_tab_and_freezes_them() -> None:
    found = {
        sheet.title: (sheet.print_title_rows, sheet.freeze_panes, sheet.auto_filter.ref) for sheet in opened()
    }
    assert {tab: found[tab] for tab in ("Today", "Sheets", "Details")} == {
        "Today": (None, None, None),
        "Sheets": ("$3:$3", "B4", "A3:D6"),
        "Details": (None, "A2", "A3:G5"),
    }


def class_report(members: tuple[ClassBook, tuple[Attempt, ...], ClassAnalysis]) -> openpyxl.Workbook:
    book, attempts, analysis = members
    handed_out = [one.record for one in attempts if one.record is not None]
    marks = [MarkRow(one.student_id, "", "", 15.0, 20.0, "final") for one in book.people]
    of_class = [replace(one, severity="warning") for one in class_findings(analysis, TEXTS)]
    results = SessionResults(book, attempts, analysis.session, handed_out, analysis, marks, of_class)
    data = report_bytes(results, (), {"seven-sites": protocol()}, TEXTS)
    return openpyxl.load_workbook(io.BytesIO(data))


def charts(workbook: openpyxl.Workbook) -> dict[str, list[str]]:
    found = {sheet.title: [type(chart).__name__ for chart in sheet._charts] for sheet in workbook}
    return {tab: kinds for tab, kinds in found.items() if kinds}


def test_report_of_a_compared_class_has_native_charts() -> None:
    assert charts(class_report(compared())) == {
        "How we measured": ["BarChart", "BarChart"],
        "For the class": ["BarChart"],
    }


def test_report_of_single_measurers_has_no_charts_of_what_cannot_be_told() -> None:
    assert charts(class_report(alone())) == {"How we measured": ["BarChart"], "For the class": ["BarChart"]}


def test_report_has_a_retest_only_with_an_earlier_session() -> None:
    assert "Over time" in class_report(retested()).sheetnames
    assert "Over time" not in class_report(alone()).sheetnames


def test_report_prints_the_summary_for_the_class_on_one_page() -> None:
    sheet = class_report(compared())["For the class"]
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight or 1) == (1, 1)


def test_report_of_a_session_without_files() -> None:
    workbook = opened([])
    assert workbook.sheetnames == [tab for tab in TABS if tab != "Sheets"]
    assert len([line for line in lines(workbook["Today"]) if line[2] == "nothing"]) == 3


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
    data = report_bytes(results, (), {"seven-sites": protocol()}, marked)
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
    keys_of_tables = {"session", "file", "site", "round", "item", "line", "slip"}
    assert words - {site.title for site in protocol().sites} - keys_of_tables == set()


def test_report_charts_are_described() -> None:
    """A chart without an alternative text is silent to a screen reader."""
    book, attempts, analysis = compared()
    handed_out = [one.record for one in attempts if one.record is not None]
    results = SessionResults(book, attempts, 1, handed_out, analysis)
    data = report_bytes(results, (), {"seven-sites": protocol()}, TEXTS)
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        drawings = [package.read(name).decode() for name in package.namelist() if "drawings/drawing" in name]
    found = [text for part in drawings for text in re.findall(r'descr="([^"]*)"', part)]
    assert len(found) == sum(part.count("<xdr:graphicFrame ") for part in drawings) == 3
    assert all(text.startswith("Chart of the table: ") for text in found)


def test_a_table_and_its_chart_stand_on_one_page() -> None:
    """Four tables of a chart each: two and their charts fill an upright page."""
    headings = (Heading("Digit", 20), Heading("Readings", 20, "text"))
    table = tuple((str(number), number) for number in range(6))
    one = Section("Below", ("A sentence.",), headings, table, (Chart("One scale", 0, 1),))
    page = Page("Tab", "Title", (), headings, table, charts=one.charts, more=(one,) * 3)
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    write_page(workbook, formats_of(workbook), page, TEXTS)
    workbook.close()
    (sheet,) = openpyxl.load_workbook(stream).worksheets
    charts = sorted((chart.anchor._from.row, chart.anchor.to.row) for chart in sheet._charts)
    breaks = [one.id for one in sheet.row_breaks.brk]
    assert len(charts) == 4
    assert breaks
    titles = [number for number, line in enumerate(lines(sheet)) if line[0] == "Below"]
    assert set(breaks) <= set(titles)


# incoming names: names in the zip
NAMES = (
    (("S01_K1.xlsx",), ["S01_K1.xlsx"]),
    (("Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"), ["Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"]),
    (("../../etc/a.xlsx",), ["etc/a.xlsx"]),
    (("/root/a.xlsx", "C:\\a.xlsx"), ["root/a.xlsx", "C_/a.xlsx"]),
    (("..\\..\\a.xlsx", "a.xlsx"), ["a.xlsx", "a (2).xlsx"]),
    (("A.xlsx", "a.xlsx", "a.XLSX"), ["A.xlsx", "a (2).XLSX", "a (3).xlsx"]),
    (("u\u0308.xlsx", "\u00fc.xlsx"), ["u\u0308.xlsx", "\u00fc (2).xlsx"]),
    (("a.ods", "b.xlsm"), ["a.ods.xlsx", "b.xlsm.xlsx"]),
    (("what?.xlsx", "a\x00b.xlsx"), ["a_b.xlsx", "what_.xlsx"]),
    (("con.xlsx", "NUL/a.xlsx"), ["_NUL/a.xlsx", "_con.xlsx"]),
    (("..", ""), ["feedback.xlsx", "feedback (2).xlsx"]),
    (("a.xlsx", "a.xlsx/b.xlsx"), ["a (2).xlsx", "a.xlsx/b.xlsx"]),
    (("sheet\udcff.xlsx",), ["sheet_.xlsx"]),
)


@pytest.mark.parametrize(("incoming", "names"), NAMES)
def test_feedback_zip_has_safe_names_once_each(incoming: tuple[str, ...], names: list[str]) -> None:
    data = feedback_zip({name: name.encode("utf-8", "replace") for name in incoming})
    assert zipfile.ZipFile(io.BytesIO(data)).namelist() == names


def test_feedback_zip_has_the_same_bytes_in_any_order() -> None:
    files = {"b.xlsx": b"two", "a.xlsx": b"one"}
    data = feedback_zip(files)
    assert data == feedback_zip(dict(reversed(files.items())))
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {name: package.read(name) for name in package.namelist()} == files
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
