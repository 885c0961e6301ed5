"""Pages of feedback: made by whoever is there, and written anew only where they hold something else."""

import shutil
from pathlib import Path

import pytest

from sheetgen.flows import pool
from sheetgen.flows.pool import OwnProcesses
from sheetgen.flows.read import read_returned
from sheetgen.store.class_folder import ClassFolder
from tests.classes import PEOPLE, built_class, filled_sheet, record_of, returned
from tests.reviews import typed


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    folder = built_class(tmp_path / "class")
    for student in PEOPLE:
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    return folder


def results(folder: ClassFolder) -> dict[str, bytes]:
    files = [path for path in folder.results(1).rglob("*") if path.is_file()]
    return {path.relative_to(folder.results(1)).as_posix(): path.read_bytes() for path in files}


def times(folder: ClassFolder) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in folder.feedback(1).iterdir()}


def read(folder: ClassFolder) -> None:
    read_returned(folder, 1, today="2027-01-15")


def test_a_new_file_changes_no_page_of_feedback_but_its_own(folder: ClassFolder) -> None:
    (folder.returned(1) / "S04.xlsx").unlink()
    read(folder)
    before = times(folder)
    returned(folder, "S04.xlsx", filled_sheet(folder, "S04"))
    read(folder)
    after = times(folder)
    assert len(after) == 4
    assert before == {name: time for name, time in after.items() if name in before}


def test_a_comment_or_a_hand_on_a_page_of_feedback_makes_that_page_anew(folder: ClassFolder) -> None:
    read(folder)
    before, whole = times(folder), results(folder)
    code, name = record_of(folder, "S01").copy_code, record_of(folder, "S01").file_name
    other = folder.feedback(1) / record_of(folder, "S02").file_name
    typed(folder, "Review", {(code, "Comment"): "Well done."})
    other.write_bytes(b"changed by hand")
    read(folder)
    after = times(folder)
    assert {one for one in after if after[one] != before[one]} == {name, other.name}
    assert results(folder)[f"feedback/{other.name}"] == whole[f"feedback/{other.name}"]
    assert results(folder)[f"feedback/{name}"] != whole[f"feedback/{name}"]


def test_pages_are_the_same_whoever_makes_them(folder: ClassFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    read(folder)
    before = results(folder)
    shutil.rmtree(folder.results(1))
    monkeypatch.setattr(pool, "_MANY", 1)
    with OwnProcesses(2) as own:
        read_returned(folder, 1, today="2027-01-15", executor=own)
    assert results(folder) == before
