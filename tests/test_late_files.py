"""Late files: they wait for the teacher's yes, and none takes the place of one that came in time."""

import csv
import shutil
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.read import read_returned
from sheetgen.report.results import Read
from sheetgen.returned.attempt import file_id
from tests.classes import attempts_in, built_class, changed_setting, filled_sheet, returned
from tests.reviews import typed

BEFORE, DUE, AFTER, LATER = "2027-03-03", "2027-03-04", "2027-03-05", "2027-03-12"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def statuses(folder: ClassFolder, today: str, codes: tuple[str, ...] | None = None) -> dict[str, str]:
    """The status of each file. codes : of all that is found besides."""
    attempts = attempts_in(folder, today=today)
    if codes is not None:
        assert tuple(sorted(finding.code for one in attempts for finding in one.findings)) == codes
    return {one.came_as: one.status for one in attempts}


def answer(folder: ClassFolder, file: str, word: str, today: str) -> None:
    (one,) = (one for one in attempts_in(folder, today=today) if one.came_as == file)
    typed(folder, "Files", {(file_id(one), "Accept"): word})


def score_of(folder: ClassFolder, student_id: str) -> tuple[str, str]:
    with folder.marks(1).open(encoding="utf-8-sig", newline="") as stream:
        (row,) = (row for row in csv.DictReader(stream) if row["student_id"] == student_id)
    return row["score"], row["status"]


def written(folder: ClassFolder) -> dict[str, bytes]:
    paths = [*folder.results(1).rglob("*"), folder.arrivals, folder.review(1)]
    return {path.relative_to(folder.root).as_posix(): path.read_bytes() for path in paths if path.is_file()}


def test_in_time_is_accepted_and_stays_so_however_late_it_is_read_again(folder: ClassFolder) -> None:
    changed_setting(folder, "Due date", DUE)
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    assert statuses(folder, DUE) == {"one.xlsx": "accepted"}
    (folder.returned(1) / "one.xlsx").rename(folder.returned(1) / "renamed.xlsx")
    assert statuses(folder, LATER) == {"renamed.xlsx": "accepted"}


# what the teacher says, what becomes of the file
WORDS = (("yes", "accepted"), ("no", "refused"))


@pytest.mark.parametrize(("word", "status"), WORDS)
def test_after_the_due_date_a_file_waits_for_the_teacher(folder: ClassFolder, word: str, status: str) -> None:
    changed_setting(folder, "Due date", DUE)
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    assert statuses(folder, AFTER, codes=("procedure-late",)) == {"one.xlsx": "review"}
    answer(folder, "one.xlsx", word, AFTER)
    assert statuses(folder, LATER) == {"one.xlsx": status}


def test_a_due_date_put_off_takes_the_question_back(folder: ClassFolder) -> None:
    changed_setting(folder, "Due date", DUE)
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    assert statuses(folder, AFTER) == {"one.xlsx": "review"}
    changed_setting(folder, "Due date", AFTER)
    assert statuses(folder, LATER) == {"one.xlsx": "accepted"}


def test_lateness_costs_nothing_by_itself(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    read_returned(folder, 1, today=AFTER)
    in_time = score_of(folder, "S01")
    changed_setting(folder, "Due date", DUE)
    answer(folder, "one.xlsx", "yes", AFTER)
    read_returned(folder, 1, today=AFTER)
    assert score_of(folder, "S01") == in_time


def test_a_resubmission_after_feedback_takes_no_place_without_a_yes(folder: ClassFolder) -> None:
    returned(folder, "first.xlsx", filled_sheet(folder, "S01"))
    assert statuses(folder, BEFORE) == {"first.xlsx": "accepted"}
    changed_setting(folder, "Feedback given", DUE)
    returned(folder, "again.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    assert statuses(folder, AFTER, codes=("procedure-after-feedback",)) == {
        "again.xlsx": "superseded",
        "first.xlsx": "accepted",
    }
    answer(folder, "again.xlsx", "yes", AFTER)
    assert statuses(folder, LATER) == {"again.xlsx": "accepted", "first.xlsx": "superseded"}


def test_a_late_file_in_place_of_a_refused_one_waits(folder: ClassFolder) -> None:
    changed_setting(folder, "Due date", DUE)
    returned(folder, "broken.xlsx", filled_sheet(folder, "S01")[:-2000])
    statuses(folder, BEFORE)
    returned(folder, "whole.xlsx", filled_sheet(folder, "S01"))
    assert statuses(folder, AFTER) == {"broken.xlsx": "refused", "whole.xlsx": "review"}


def test_reading_late_files_twice_gives_the_same_bytes(folder: ClassFolder) -> None:
    changed_setting(folder, "Due date", DUE)
    returned(folder, "first.xlsx", filled_sheet(folder, "S01"))
    read_returned(folder, 1, today=BEFORE)
    returned(folder, "again.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    returned(folder, "late.xlsx", filled_sheet(folder, "S02"))
    read_returned(folder, 1, today=AFTER)
    first = written(folder)
    shutil.rmtree(folder.results(1))
    read_returned(folder, 1, today=LATER)
    assert written(folder) == first


def test_a_yes_of_an_earlier_session_holds_when_a_later_one_is_read(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without it both files of session 1 would be refused, and nothing be left to compare with."""
    returned(folder, "first.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "again.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    answer(folder, "again.xlsx", "yes", BEFORE)
    assert statuses(folder, BEFORE) == {"again.xlsx": "accepted", "first.xlsx": "superseded"}
    build_sheets(folder, 2)
    read: list[Read] = []
    monkeypatch.setattr("sheetgen.commands.read.write_results", lambda _, one, *_rest: read.append(one) or ())
    read_returned(folder, 2, today=LATER)
    assert {one.came_as: one.status for one in read[0].earlier} == {
        "again.xlsx": "accepted",
        "first.xlsx": "superseded",
    }
