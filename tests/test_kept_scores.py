"""A score outlives its file, and only the teacher takes it away."""

import csv
from pathlib import Path

import pytest

from sheetgen.class_folder.decisions import read_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.read import ReadSummary, read_returned
from tests.classes import built_class, copied, filled_sheet, record_of, returned
from tests.reviews import typed

FIRST, NEXT = "2027-03-31", "2027-04-09"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    folder = built_class(tmp_path_factory.mktemp("made") / "class")
    returned(folder, "S01.xlsx", filled_sheet(folder, "S01"))
    read_returned(folder, 1, today=FIRST)
    return folder


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / "class")


def marks(folder: ClassFolder) -> tuple[str, ...]:
    """Score, status and day of S01."""
    with folder.marks(1).open(encoding="utf-8-sig", newline="") as stream:
        (row,) = (row for row in csv.DictReader(stream) if row["student_id"] == "S01")
    return row["score"], row["status"], row["scored_on"]


def read(folder: ClassFolder, day: str = NEXT) -> ReadSummary:
    return read_returned(folder, 1, today=day)


def give_points(folder: ClassFolder) -> None:
    """Give five points to each of the three short answers."""
    typed(folder, "Answers", {(name, "Points given"): 5 for name in ANSWERS})
    read(folder, FIRST)
    assert marks(folder) == ("100.0", "final", FIRST)


ANSWERS = ("answer_zero", "answer_repeat", "answer_error")


def test_a_score_is_taken_away_on_the_tab_marks_and_given_back(folder: ClassFolder) -> None:
    code = record_of(folder, "S01").copy_code
    before = marks(folder)
    assert before == ("85.0", "to be marked", FIRST)
    (folder.returned(1) / "S01.xlsx").unlink()
    assert read(folder).kept == 1
    assert marks(folder) == before
    typed(folder, "Marks", {(code, "Withdrawn"): "yes"})
    summary = read(folder)
    assert (marks(folder), summary.kept) == (("", "missing", FIRST), 0)
    assert "S01" in [one.record.student_id for one in summary.missing]
    typed(folder, "Marks", {(code, "Withdrawn"): None})
    read(folder)
    assert marks(folder) == before


def test_a_score_of_a_file_that_is_there_is_taken_away_too(folder: ClassFolder) -> None:
    typed(folder, "Marks", {(record_of(folder, "S01").copy_code, "Withdrawn"): "yes"})
    read(folder)
    assert marks(folder) == ("", "missing", FIRST)


@pytest.mark.parametrize("gone", (False, True))
def test_points_for_an_answer_that_is_another_one_now_wait_to_be_confirmed(
    folder: ClassFolder, gone: bool
) -> None:
    """Also where the first file is not there any more: the journal tells by a keyed digest."""
    give_points(folder)
    assert all("It would" not in one.ground for one in read_decisions(folder).decisions)
    path = folder.returned(1) / "S01.xlsx"
    if gone:
        path.unlink()
        folder.review(1).unlink()
        read(folder)
        assert marks(folder) == ("100.0", "final", FIRST)
    path.write_bytes(filled_sheet(folder, "S01", {"answer_zero": "Something else."}))
    summary = read(folder)
    assert [(note.code, note.case) for note in summary.notes] == [("class-review-ground-changed", "answer")]
    assert marks(folder) == ("100.0", "to be marked", NEXT)
    typed(folder, "Answers", {("answer_zero", "Still right"): "yes"})
    assert read(folder).notes == ()
    assert marks(folder)[:2] == ("100.0", "final")


def test_points_for_an_answer_that_came_again_stay_final(folder: ClassFolder) -> None:
    give_points(folder)
    (folder.returned(1) / "S01.xlsx").write_bytes(filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    read(folder)
    # The masses do not follow from the other body mass: four points less, and nothing to confirm.
    assert marks(folder)[:2] == ("96.0", "final")
