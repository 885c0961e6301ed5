"""Paper forms typed into one workbook: read like the sheets they stand for."""

import csv
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.forget import forget_before
from sheetgen.commands.read import read_returned
from sheetgen.returned.attempt import Attempt
from sheetgen.workbook.layout import Value
from tests.classes import attempts_in, built_class, filled_sheet, record_of, returned, run

DAY = "2027-01-15"
NAME = "whatever.xlsx"
COLUMNS = {
    "data_source": "Readings come from",
    "age_years": "Age of the person measured",
    "zero_mm": "Zero of this caliper",
}
READINGS: dict[str, tuple[Value, ...]] = {
    "Chest": (10, 11), "Midaxillary": (12, 12.5), "Triceps": (14, 18, 15), "Subscapular": (13, 13),
    "Abdominal": (20, 21), "Suprailiac": (15, 15.5), "Thigh": (22, 22),
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def typed(folder: ClassFolder, forms: Mapping[str, Mapping[str, Value | tuple[Value, ...]]]) -> bytes:
    """The workbook with what somebody typed: student to heading to one value, or to one a round."""
    book = openpyxl.load_workbook(folder.typing_in(1))
    tab = book.worksheets[0]
    columns = {cell.value: cell.column for cell in tab[5]}
    for student, entries in forms.items():
        code = record_of(folder, student).copy_code
        first = next(row for row in range(6, tab.max_row) if tab.cell(row, 1).value == code)
        for heading, value in entries.items():
            values = value if isinstance(value, tuple) else (value,)
            for at, one in enumerate(values):
                tab.cell(first + at, columns[heading]).value = one
    path = folder.root.parent / "typed.xlsx"
    book.save(path)
    return path.read_bytes()


def whole(**change: Value | tuple[Value, ...]) -> dict[str, Value | tuple[Value, ...]]:
    once: dict[str, Value] = {
        "Measurer: read and agreed": "yes", COLUMNS["age_years"]: 31, "Equation": "female",
        COLUMNS["zero_mm"]: 0, "Upper arm, length": 34, "Thigh, length": 44,
    }  # fmt: skip
    return {**once, **READINGS, **change}


def by_student(attempts: Sequence[Attempt]) -> dict[str, Attempt]:
    return {one.record.student_id: one for one in attempts if one.record is not None}


def codes(attempt: Attempt) -> set[str]:
    return {finding.code for finding in attempt.findings}


def test_each_form_typed_in_is_an_attempt_of_its_own(folder: ClassFolder) -> None:
    """Sums by hand: 10.5 + 12.25 + 15 + 13 + 20.5 + 15.25 + 22 = 108.5; the third reading settles triceps."""
    returned(folder, NAME, typed(folder, {"S01": whole(), "S02": whole(Chest=(11, 12))}))
    came = by_student(read_returned(folder, 1, today=DAY).attempts)
    assert set(came) == {"S01", "S02"}
    first = came["S01"]
    assert first.results is not None
    assert (first.status, first.results.sum_mm) == ("accepted", 108.5)
    assert first.came_as == f"{NAME}/{record_of(folder, 'S01').copy_code}.xlsx"
    with (folder.results(1) / "readings.csv").open(encoding="utf-8", newline="") as stream:
        chest = [line for line in csv.DictReader(stream) if line["site"] == "chest"]
    assert [line["reading_mm"] for line in chest] == ["10.0", "11.0", "11.0", "12.0"]


def test_what_cannot_be_read_is_found_like_on_a_sheet(folder: ClassFolder) -> None:
    form = whole(Chest=("12,5", "1.5 cm"), Thigh=(99, 22))
    returned(folder, NAME, typed(folder, {"S01": form}))
    returned(folder, "sheet.xlsx", filled_sheet(folder, "S02", {"reading_1_chest": "12,5"}))
    came = by_student(attempts_in(folder))
    on_a_sheet = {code for code in codes(came["S02"]) if code.startswith("entry-")}
    assert on_a_sheet
    assert on_a_sheet <= codes(came["S01"])
    assert came["S01"].entries["reading_1_chest"] == 12.5
    assert came["S01"].entries["reading_2_chest"] == 15
    assert not {code for code in codes(came["S01"]) if code.startswith(("sheet-", "file-", "identity-"))}


def test_a_site_left_out_and_practice_are_words_of_the_form(folder: ClassFolder) -> None:
    left_out = {"Left out? Chest": "left-out", "Chest": (None, None), COLUMNS["data_source"]: "practice"}
    returned(folder, NAME, typed(folder, {"S01": whole(**left_out)}))
    attempt = by_student(attempts_in(folder))["S01"]
    assert attempt.entries["not_taken_chest"] == "left-out"
    assert attempt.is_practice


def test_a_complete_sheet_counts_before_its_form(folder: ClassFolder) -> None:
    returned(folder, NAME, typed(folder, {"S01": whole()}))
    returned(folder, "sheet.xlsx", filled_sheet(folder, "S01"))
    came = {one.came_as: one.status for one in attempts_in(folder)}
    assert came == {
        f"{NAME}/{record_of(folder, 'S01').copy_code}.xlsx": "superseded",
        "sheet.xlsx": "accepted",
    }


def test_one_that_nothing_was_typed_into_is_passed_over(folder: ClassFolder) -> None:
    returned(folder, NAME, folder.typing_in(1).read_bytes())
    assert attempts_in(folder) == ()


def test_one_of_another_class_is_refused_as_such(folder: ClassFolder, tmp_path: Path) -> None:
    other = built_class(tmp_path / "other", "0b" * 32)
    returned(folder, NAME, typed(other, {"S01": whole()}))
    (attempt,) = attempts_in(folder)
    assert (attempt.status, codes(attempt)) == ("refused", {"file-other-class"})


def test_a_form_of_no_sheet_on_record_is_refused(folder: ClassFolder) -> None:
    data = typed(folder, {"S01": whole()})
    records = keep.load_records(folder)
    del records[record_of(folder, "S01").copy_code]
    keep.save_records(folder, records)
    returned(folder, NAME, data)
    (attempt,) = attempts_in(folder)
    assert codes(attempt) == {"identity-unknown-copy"}


def test_a_form_is_read_where_its_sheet_is_gone(folder: ClassFolder) -> None:
    returned(folder, NAME, typed(folder, {"S01": whole()}))
    before = by_student(attempts_in(folder))["S01"]
    (folder.sheets(1) / record_of(folder, "S01").file_name).unlink()
    after = by_student(attempts_in(folder))["S01"]
    assert (after.status, after.entries) == (before.status, before.entries)


def test_look_says_what_there_is_to_say_of_each_form(folder: ClassFolder) -> None:
    folder.typing_in(1).write_bytes(typed(folder, {"S01": whole(Chest=(99, 11)), "S02": whole()}))
    said = run("look", folder.typing_in(1)).stdout
    assert record_of(folder, "S01").copy_code in said
    assert record_of(folder, "S02").copy_code in said
    assert "file-not-a-sheet" not in said


def test_building_again_leaves_one_that_was_typed_into_and_says_so(folder: ClassFolder) -> None:
    data = typed(folder, {"S01": whole()})
    folder.typing_in(1).write_bytes(data)
    notes = build_sheets(folder, 1).notes
    assert [note for note in notes if note.startswith(f"{folder.typing_in(1)}: typed into")]
    assert folder.typing_in(1).read_bytes() == data


def test_building_again_makes_an_untouched_one_anew(folder: ClassFolder) -> None:
    made = folder.typing_in(1).read_bytes()
    book = openpyxl.load_workbook(folder.typing_in(1))
    book.save(folder.typing_in(1))
    assert not [note for note in build_sheets(folder, 1).notes if "typing-in" in note]
    assert folder.typing_in(1).read_bytes() == made


def test_forgetting_takes_returned_forms_and_those_in_their_place(folder: ClassFolder) -> None:
    data = typed(folder, {"S01": whole(), "S02": whole()})
    folder.typing_in(1).write_bytes(data)
    path = returned(folder, NAME, data)
    read_returned(folder, 1, today=DAY)
    assert forget_before(folder, date(2027, 1, 15)).returned == ()
    gone = forget_before(folder, date(2027, 1, 16), write=True)
    assert gone.returned == (f"returned/session-1/{NAME}",)
    assert "sheets/session-1/typing-in.xlsx" in gone.derived
    assert not path.exists()
    assert not folder.typing_in(1).exists()
