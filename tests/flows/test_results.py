"""What a session's results hold, and that a teacher's decisions survive every reading."""

import csv
import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from sheetgen.flows.read import read_returned
from sheetgen.store.class_folder import ClassFolder
from tests.classes import built_class, filled_sheet, record_of, returned


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    folder = built_class(tmp_path / "class")
    for student in ("S01", "S02", "S03"):
        returned(folder, f"{student}_upload.xlsx", filled_sheet(folder, student))
    read_returned(folder, 1)
    return folder


def _marks(folder: ClassFolder) -> dict[str, tuple[str, str]]:
    rows = csv.DictReader(io.StringIO(folder.marks(1).read_text(encoding="utf-8")))
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


def test_adjusted_mark_and_comment_survive_ten_readings(folder: ClassFolder) -> None:
    """Files are added, replaced and removed in between."""
    code = record_of(folder, "S01").copy_code
    _typed(folder, "Review", {"Copy code": code}, "Adjusted mark", 91.5)
    _typed(folder, "Review", {"Copy code": code}, "Comment", "Well marked sites.")
    for number in range(10):
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
        _typed(folder, "Answers", {"Copy code": code, "Cell name": name}, "Points given", points)
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
        ("Cell name", "reading_1_thigh"),
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
